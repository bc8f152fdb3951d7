"""How a word as typed is compared with the words of an answer list: case, hyphens, dots, plural, spelling.

Two spellings are the same word when they have the same form here. The form is for comparing and is never shown or
kept. It takes away only what cannot change a meaning: no word is dropped, so that "no odour" is never "odour", and
numbers and Roman numerals stay apart, so that "I-II" is never "III".
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache, lru_cache

from woundfhir.catalogue.data_file import data_file

_DASHES = re.compile(r"(?<!\d)\s*[-\u2010-\u2015]\s*|\s*[-\u2010-\u2015]\s*(?!\s*\d)")
_DOTS = re.compile(r"(?<!\d)\.|\.(?!\d)")
_BOUNDARY = re.compile(r"(?<=[^\W\d_])(?=\d)|(?<=\d)(?=[^\W\d_])|(?=[%&])|(?<=[%&])")
#: Words shorter than this are neither joined to the next nor taken for a plural: I and V are numbers, "as" is no "a".
_JOINED, _PLURAL = 3, 5
_NUMERAL = re.compile(r"[ivx]+")


@cache
def _table() -> Mapping[str, str]:
    return {written: read for table in data_file("spelling.toml").values() for written, read in table.items()}


def folded(text: str) -> str:
    """Return a text in small letters with straight apostrophes, and one blank between two words.

    Examples
    --------
    >>> folded("Pas d\u2019os  VISIBLE ")
    "pas d'os visible"
    """
    return " ".join(text.casefold().replace("\u2019", "'").split())


@lru_cache(maxsize=65536)
def same_form(written: str) -> str:
    """Return the form in which spellings of one word are equal.

    Examples
    --------
    >>> same_form("Super-absorbent  dressings"), same_form("superabsorbent dressing")
    ('superabsorbentdressing', 'superabsorbentdressing')
    >>> same_form("P.I."), same_form("Stg. II"), same_form("type3"), same_form("no odor")
    ('pi', 'stage ii', 'type 3', 'no odour')
    >>> same_form("I-II") == same_form("III"), same_form("1-2") == same_form("12")
    (False, False)
    """
    text = written.casefold().replace("\u2019", "'")
    text = _BOUNDARY.sub(" ", _DASHES.sub(" ", _DOTS.sub("", text)))
    known = _table()
    out = ""
    last = ""
    for token in text.split():
        token = "and" if token == "&" else known.get(token, token)
        token = known.get(single := _singular(token), single)
        apart = last and not (_joins(last) and _joins(token))
        out += f" {token}" if apart else token
        last = token
    return out


def _singular(token: str) -> str:
    whole = len(token) < _PLURAL or not token.endswith("s") or token.endswith(("ss", "us", "is"))
    return token if whole else token[:-1]


def _joins(token: str) -> bool:
    return len(token) >= _JOINED and token.isalpha() and _NUMERAL.fullmatch(token) is None
