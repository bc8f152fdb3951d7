"""Which illness or medicine a text about the client names: his own, and not denied. The words are data.

A denial is read only where nothing but small words and other illnesses stand between it and what it denies: of "non
compliant diabetic" and "not on insulin for his diabetes" it denies no diabetes.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import Any

from woundfhir.catalogue.data_file import data_file
from woundfhir.catalogue.translation import plain_words

_KIN = (
    r"(?:mother|father|mom|mum|dad|sister|brother|siblings?|parents?|aunt|uncle|grand(?:mother|father|parents?)|wife|husband"
    r"|mere|pere|soeur|frere|epouse?|mari|famille)"
)
_BETWEEN = r"(?:is|was|has|had|with|also|an?|both|of|type|hx|history|est|etait|avait|[12])"
_FAMILY = re.compile(r"\b(?:family (?:history|hx)|fam(?:ily)? hx|fhx|antecedents familiaux|atcd fam\w*)\b[^,;.]*")
#: What denies, and the small words that may stand between it and what it denies.
_DENIAL = r"(?:not?|nor|non|nil|without|neither|never|\w+n't|pas|sans|aucune?s?|ni)"
#: Verbs that deny all of a list.
_VERB = r"(?:denie[sd]|denying|negative for|neg for|nie(?:nt)?)"
_SMALL = (
    r"(?:known|an?|any|of|hx|h/o|history|pmh|dx|diagnos(?:is|ed)|evidence|signs?|personal|past|previous|longer|more|on"
    r"|taking|have|has|had|with|currently|yet|the|de|d'|du|des|la|le|l'|connue?s?|atteinte?|antecedents?|sous|prend)"
)
_SMALLS = rf"(?:{_SMALL}\s+|[dl]'\s*)*"
#: What follows a denied illness; where another word does ("no diabetes education"), it says something else.
_AFTER = (
    r"(?=\s*(?:$|[,;.:()/&+|]|\b(?:or|nor|and|et|ou|ni|but|mais|known|noted|reported|dx|hx|history|per|as|at|on|by|in"
    r"|currently|now|today|yet|anymore|since|seen|diagnosed|connue?|depuis)\b))"
)
#: Behind an illness: "diabetes: no", "osteomyelitis ruled out".
_BEHIND = (
    r"\s*(?:(?:is|was|has been|est|a ete)\s+)?(?:ruled out|excluded|denied|negative|ecartee?|exclue?|niee?"
    r"|not (?:seen|present|found|evident|suspected|identified)"
    r"|[:=]\s*(?:no|none|nil|non|denied|negative|0)\b(?=\s*(?:$|[,;.)])))"
)
_STOPPED = r"(?:stopped|discontinued|d/c'?d|ceased|finished|completed|cessee?|arretee?|terminee?|off(?!\s*load))"
_WAS = r"(?:(?:is|was|were|has been|had been|been|now|\d\S*|mg|bid|od|est|a ete)\s+)*"
_LATELY = re.compile(r"\b(?:today|yesterday|this morning|aujourd'hui|hier)\b")


@cache
def _data() -> dict[str, Any]:
    return data_file("illnesses.toml")


@cache
def _words(key: str, which: str) -> str:
    words = sorted(_data()[key].get(which, ()), key=len, reverse=True)
    return "(?:" + "|".join(re.escape(plain_words(one)) for one in words) + ")s?"


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
    plain = _denied().sub(" ", _own(key, text))
    if _data()[key].get("ends"):
        plain = _ended(key).sub(lambda found: found[0] if _LATELY.search(found[0]) else found["rest"] or " ", plain)
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


@cache
def _denied() -> re.Pattern[str]:
    """What denies an illness, alone or in a list: behind a comma only where "or" follows, or the denial is a verb."""
    named = "|".join(_words(key, "words") for key in _data())
    item, either = rf"{_SMALLS}(?:{named})", rf"{_SMALLS}(?:{named}|\w+)"
    joined = r"\s*(?:,?\s*\b(?:or|nor|ou|ni)\b|/)\s*"
    listed = rf"{either}(?:\s*,\s*{either}){{0,9}}(?:{joined}{either})+"
    after_verb = rf"{item}(?:\s*(?:,|{joined})\s*{item}){{0,9}}"
    return re.compile(rf"\b(?:{_VERB}\s+{after_verb}|{_DENIAL}\s+(?:{listed}|{item})){_AFTER}|\b(?:{named})\b{_BEHIND}")


@cache
def _ended(key: str) -> re.Pattern[str]:
    """What says that a medicine was stopped, and the rest of that part of the sentence."""
    word = _word(key)
    small = r"(?:(?:the|her|his|their|taking|all|on|le|la|de|du)\s+)*"
    stopped = rf"{word}\s+{_WAS}{_STOPPED}|\b{_STOPPED}\s+{small}{word}"
    return re.compile(rf"(?:{stopped})\b(?!\s*(?:and|then|et|puis)\s+re)(?P<rest>[^,;.]*)")


def _word(key: str) -> str:
    return rf"\b{_words(key, 'words')}\b"


def _own(key: str, text: str) -> str:
    """Return a text without what is said of the family, and without what only shares a word."""
    plain, word = _FAMILY.sub(" ", plain_words(text)), _word(key)
    if "but" in _data()[key]:
        plain = re.sub(rf"\b{_words(key, 'but')}\b", " ", plain)
    plain = re.sub(rf"\b{_KIN}(?:'s)?\s+(?:{_BETWEEN}\s+)*{word}", " ", plain)
    return re.sub(rf"{word}\s+(?:in|of|on|chez|de)\s+(?:(?:the|his|her|la|le|sa|son)\s+)*{_KIN}\b", " ", plain)
