"""How a text is written down for reading: small letters without accents, one kind of apostrophe, nothing unseen.

"Fièvre", "FIEVRE" and an è of two signs are one word; every letter remembers where it stood.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from itertools import product

#: What is typed or pasted for an apostrophe.
_APOSTROPHES = frozenset("\u2019\u2018\u02bc\u2032\u00b4`")
_LETTERS = {"œ": "oe", "æ": "ae"}
#: What parts the endings of a word in the data: "froid·e·s" is froid, froide, froids, froides.
ENDING = "\u00b7"


@cache
def _plain_letter(one: str) -> str:
    if one in _APOSTROPHES:
        return "'"
    low = one.lower()
    if low in _LETTERS:
        return _LETTERS[low]
    if low.isascii():
        return low
    if unicodedata.category(one) in ("Mn", "Cf"):
        return ""
    base = unicodedata.normalize("NFD", low)[0]
    return base if base.isascii() and base.isalpha() else low if len(low) == 1 else one


def plain(text: str) -> tuple[str, list[int]]:
    """Return a text in small letters without accents, and where each of its letters, and its end, stood.

    Examples
    --------
    >>> plain("Cœur d\u2019été")
    ("coeur d'ete", [0, 1, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10])
    """
    out: list[str] = []
    places: list[int] = []
    for place, one in enumerate(text):
        letters = _plain_letter(one)
        out.append(letters)
        places += [place] * len(letters)
    return "".join(out), [*places, len(text)]


def plain_text(text: str) -> str:
    """Return a text as ``plain`` does, without the places.

    Examples
    --------
    >>> plain_text("Œdème"), plain_text("FIE\u0300VRE")
    ('oedeme', 'fievre')
    """
    return "".join(map(_plain_letter, text))


def forms(word: str) -> list[str]:
    """Return every form of a word of the data with its endings.

    Examples
    --------
    >>> forms("blanc·he·s"), forms("chaud")
    (['blanc', 'blancs', 'blanche', 'blanches'], ['chaud'])
    """
    stem, *endings = word.split(ENDING)
    return [stem + "".join(chosen) for chosen in product(*(("", one) for one in endings))]


def word_pattern(word: str) -> str:
    """Return the pattern of a word of the data with its endings; an apostrophe within it may be left out: "cant"."""
    stem, *endings = (re.escape(one) for one in word.split(ENDING))
    pattern = stem + "".join(f"(?:{one})?" for one in endings)
    return re.sub(r"(?<=\w)'(?=\w)", "'?", pattern)
