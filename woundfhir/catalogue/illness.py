"""Which illness or medicine a text about the client names: his own, and not denied. The words are data."""

from __future__ import annotations

import re
import tomllib
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from woundfhir.catalogue.denial import undenied
from woundfhir.catalogue.translation import without_accents

_KIN = (
    r"(?:mother|father|mom|mum|dad|sister|brother|siblings?|parents?|aunt|uncle|grand(?:mother|father|parents?)|wife|husband"
    r"|mere|pere|soeur|frere|epouse?|mari|famille)"
)
_BETWEEN = r"(?:is|was|has|had|with|also|an?|both|of|type|hx|history|est|etait|avait|[12])"
_FAMILY = re.compile(r"\b(?:family (?:history|hx)|fam(?:ily)? hx|fhx|antecedents familiaux|atcd fam\w*)\b[^,;.]*")
#: What ends a medicine, unless it was a day ago.
_ENDED = re.compile(
    r"[^,;.]*\b(?:stopped|discontinued|d/c'?d|ceased|finished|completed|off|cessee?|arretee?|terminee?)\b[^,;.]*"
)
_LATELY = re.compile(r"\b(?:today|yesterday|this morning|aujourd'hui|hier)\b")


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads((files("woundfhir.catalogue") / "data" / "illnesses.toml").read_text("utf-8"))


@cache
def _words(key: str, which: str) -> str:
    words = sorted(_data()[key].get(which, ()), key=len, reverse=True)
    return "(?:" + "|".join(re.escape(_plain(one)) for one in words) + ")s?"


def _plain(text: str) -> str:
    return without_accents(" ".join(re.sub(r"[-\u2010-\u2015]", " ", text.casefold().replace("\u2019", "'")).split()))


@lru_cache(maxsize=16384)
def names(key: str, text: str) -> bool:
    """Whether a text names an illness or a medicine that the client has.

    Parameters
    ----------
    key
        A key of ``data/illnesses.toml``.
    text
        The words as written: a condition, the health history, the medicines.

    Examples
    --------
    >>> [names("diabetes", text) for text in ("Type II Diabetic on insulin", "T2DM, CHF", "hx of diabetes", "diabète")]
    [True, True, True, True]
    >>> [names("diabetes", text) for text in ("not diabetic", "mother diabetic", "diabetes insipidus", "FHx of DM")]
    [False, False, False, False]
    >>> names("blood thinner", "warfarin stopped in May"), names("blood thinner", "warfarin stopped yesterday")
    (False, True)
    """
    plain = undenied(_own(key, text), past=False)
    plain = _ENDED.sub(lambda found: found[0] if _LATELY.search(found[0]) else " ", plain)
    return re.search(_word(key), plain) is not None


@lru_cache(maxsize=16384)
def mentions(key: str, text: str) -> bool:
    """Whether a text speaks of the client's own illness or medicine at all, denied or not.

    Examples
    --------
    >>> [mentions("diabetes", text) for text in ("not diabetic", "mother diabetic", "hernia repair")]
    [True, False, False]
    """
    return re.search(_word(key), _own(key, text)) is not None


def _word(key: str) -> str:
    return rf"\b{_words(key, 'words')}\b"


def _own(key: str, text: str) -> str:
    """Return a text without what is said of the family, and without what only shares a word."""
    plain, word = _FAMILY.sub(" ", _plain(text)), _word(key)
    if "but" in _data()[key]:
        plain = re.sub(rf"\b{_words(key, 'but')}\b", " ", plain)
    plain = re.sub(rf"\b{_KIN}(?:'s)?\s+(?:{_BETWEEN}\s+)*{word}", " ", plain)
    return re.sub(rf"{word}\s+(?:in|of|on|chez|de)\s+(?:(?:the|his|her|la|le|sa|son)\s+)*{_KIN}\b", " ", plain)
