"""What a header may mean: words in English and French, compared exactly and, for what is misspelt, by likeness."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.likeness import nearest, sorted_words
from woundfhir.tables.layout import folded, without_unit

#: How alike two headers must be, in per cent, and how long the shorter one: "W" is like too many.
_ALIKE, _SHORT = 82, 4
_BARE = re.compile(r"[^\w%/+*x #()'-]+")
#: Where a program's name has a new word: ``visitDate``, ``WoundLength``.
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
#: The number of a wound in a header: "Wound 2 length", "Plaie 1 / Long.", "L2".
_NUMBERED = re.compile(
    r"^(?:(?:wound|plaie|site|w|p)\s*#?\s*([1-9])\b[\s/:_-]*)|[\s/:_-]*(?:wound|plaie)?\s*#?([1-9])$"
)


class Meaning(NamedTuple):
    """What a header may mean: where it goes, and what the guess rests on."""

    paths: tuple[str, ...]
    rests_on: str


@cache
def _data(name: str) -> Mapping[str, Any]:
    return tomllib.loads((files("woundfhir.tables") / "data" / f"{name}.toml").read_text("utf-8"))


@per_catalogue()
def _known() -> Mapping[str, tuple[str, ...]]:
    """Return the words, folded -> paths. Headers of the list come before the labels of the catalogue."""
    found: dict[str, tuple[str, ...]] = {}
    for path, words in _data("headers")["headers"].items():
        for word in words:
            found.setdefault(plain(word), tuple(path.split("+")) if "+." not in path else (path,))
    every = {concept.path: [*concept.names, *concept.headers] for concept in catalogue().concepts()}
    for path, words in every.items():
        for word in words:
            found.setdefault(plain(word), (path,))
    return found


@per_catalogue()
def _sorted() -> Mapping[str, str]:
    """Return the known words that are long enough to be compared by likeness, by their words in order."""
    found: dict[str, str] = {}
    for word in _known():
        if len(word) >= _SHORT:
            found.setdefault(sorted_words(word), word)
    return found


def plain(header: str) -> str:
    """Return a header as it is compared: folded, without the unit in brackets and what is neither letter nor digit.

    Examples
    --------
    >>> plain("Longueur (cm)"), plain("Chart No."), plain("Né(e) le :"), plain("woundLength_mm")
    ('longueur', 'chart no', 'ne(e) le', 'wound length')
    """
    text = folded(_CAMEL.sub(" ", without_unit(header))).replace("n°", "no").replace("nº", "no").replace("_", " ")
    return " ".join(_BARE.sub(" ", text).split()).strip(" :-/")


def meaning(header: str) -> Meaning | None:
    """Return what a header may mean, None where nothing is like it.

    Examples
    --------
    >>> meaning("Longueur (cm)").paths, meaning("Lenght"), meaning("xyz")
    (('assessment.length',), Meaning(paths=('assessment.length',), rests_on='the header is like length (83 %)'), None)
    """
    known, text = _known(), plain(header)
    if not text:
        return None
    if text in known:
        return Meaning(known[text], "the header")
    short = _data("headers")["short"]
    written_out = " ".join(short.get(word.strip("."), word) for word in text.split())
    if written_out != text:
        if written_out in known:
            return Meaning(known[written_out], f"the header, written out: {written_out}")
        text = written_out
    if len(text) < _SHORT:
        return None
    found = nearest(sorted_words(text), _sorted(), _ALIKE)
    if found is not None:
        word = _sorted()[found[0]]
        return Meaning(known[word], f"the header is like {word} ({found[1]} %)")
    inside = max((word for word in known if len(word) >= _SHORT and f" {word} " in f" {text} "), key=len, default=None)
    return None if inside is None else Meaning(known[inside], f"the header has the words {inside}")


def numbered(header: str) -> tuple[str, int] | None:
    """Return a header without the number of its wound, and that number.

    Examples
    --------
    >>> numbered("Wound 2 / Length"), numbered("L2"), numbered("Length")
    (('length', 2), ('l', 2), None)
    """
    text = plain(header)
    found = _NUMBERED.search(text)
    rest = _NUMBERED.sub("", text).strip(" /:_-") if found else ""
    return (rest, int(found[1] or found[2])) if found and rest else None


def long_part(header: str) -> str | None:
    """Return what a column is in a table of one finding a row: ``name``, ``value``, ``unit``, or None."""
    text = plain(header)
    return next((part for part, words in _data("headers")["long"].items() if text in words), None)


def takes_back(header: str) -> tuple[bool, bool]:
    """Return whether a column says by yes or no that its row does not count, and whether it names the row's state.

    Examples
    --------
    >>> takes_back("Is_Deleted"), takes_back("Supprimé ?"), takes_back("Record status"), takes_back("Deleted by")
    ((True, False), (True, False), (False, True), (False, False))
    """
    named = plain(header).rstrip(" ?")
    return named in words("headers"), named in words("states")


@cache
def words(kind: str) -> frozenset[str]:
    """Return the words, folded, of headers (``headers``, ``states``) and of cells of rows that do not count."""
    return frozenset(_data("headers")["taken_back"][kind])


@per_catalogue()
def elsewhere(answers: str) -> Mapping[str, str]:
    """Return the words of an answer list in other languages, folded -> the English word of the list."""
    listed = catalogue().answers.get(answers)
    return {folded(form): word.word for word in (listed.words if listed else ()) for form in word.forms}
