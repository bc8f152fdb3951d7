"""Figures of the body that are asked about: a temperature, a blood glucose, an INR (the table ``figures``)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from typing import NamedTuple

from woundfhir.catalogue import per_catalogue
from woundfhir.freetext.language import LANGUAGES, Language, alternatives, language
from woundfhir.freetext.note import Note

#: How many characters may stand between a name and its figure.
_REACH = 25
#: With a point, or with the comma of French: "38,6", and not the first of "5,12,18".
_NUMBER = r"(?<![\d./:-])(?:\d{1,3}(?:\.\d+|,\d{1,2}(?![\d,]|\.\d))?|\.\d+)(?![\d:]|\.\d|/\d|-\d\d-)"
#: The first of two, as in a blood pressure.
_FIRST = r"(?<![\d./:-])\d{2,3}(?=\s*/\s*\d)"
_FOLLOWED = re.compile(r"[^\w\n]{0,3}\d")
_RANGE = re.compile(r"\s*(?:-|–|to|then|à|a|puis)\s*(\d{1,3}(?:[.,]\d+)?)(?![\d:/]|\.\d)")


class _Figure(NamedTuple):
    """One kind of figure: the hazard that it names, its name, a number of it, and from what to what it is asked."""

    hazard: str
    name: re.Pattern[str]
    number: re.Pattern[str]
    asked: tuple[tuple[Decimal, Decimal], ...]
    before: re.Pattern[str] | None = None

    def far_out(self, number: str) -> bool:
        return any(low <= Decimal(number.replace(",", ".")) <= high for low, high in self.asked)


class _Figures(NamedTuple):
    """All figures of a language, what ends the reach of a name, and what stands beside a number of another kind."""

    each: tuple[_Figure, ...]
    any_name: re.Pattern[str]
    before: re.Pattern[str]
    after: re.Pattern[str]
    of_things: re.Pattern[str]
    thing_before: re.Pattern[str]


def find_figures(note: Note) -> Iterator[tuple[str, int, int]]:
    """Yield (hazard, start, end) for each figure that is asked about, in ``note.low``."""
    known = _figures(note.words)
    for kind in known.each:
        for named in kind.name.finditer(note.low):
            if known.thing_before.search(note.low, max(0, named.start() - _REACH), named.start()):
                continue
            end = _asked(note, known, kind, named.end())
            ahead = kind.before.search(note.low, max(0, named.start() - _REACH), named.start()) if kind.before else None
            if end is not None:
                yield kind.hazard, named.start(), end
            elif ahead is not None and kind.far_out(ahead[1]) and not _FOLLOWED.match(note.low, named.end()):
                yield kind.hazard, ahead.start(), named.end()


def _asked(note: Note, known: _Figures, kind: _Figure, start: int) -> int | None:
    """Where the figure of a name ends, if it is asked about; a day, an hour or a count is passed over."""
    stop = note.sentence(start)[1]
    place, other = start, known.any_name.search(note.low, start, stop)
    stop = other.start() if other is not None else stop
    while (found := kind.number.search(note.low, place, stop)) is not None and found.start() - place <= _REACH:
        between = note.low[place : found.start()]
        if known.of_things.search(between):
            return None
        if known.before.search(between) is None and known.after.match(note.low, found.end()) is None:
            ends = _RANGE.match(note.low, found.end(), stop)
            numbers = [found[0], *([ends[1]] if ends is not None else [])]
            return found.end() if any(kind.far_out(one) for one in numbers) else None
        place = found.end()
    return None


@per_catalogue()
def figure_words(words: Language) -> frozenset[str]:
    """Return the first word of each name of a figure: where none of them stands, no figure does."""
    return frozenset(name.split()[0] for raw in words.raw["figures"].values() for name in raw["words"])


@per_catalogue()
def _figures(words: Language) -> _Figures:
    table = words.raw["figures"]
    every_not = [language(one).raw["figure_not"] for one in LANGUAGES]
    beside = {key: [text for raw in every_not for text in raw[key]] for key in every_not[0]}
    every = {name for raw in table.values() for name in raw["words"]}
    return _Figures(
        tuple(
            _Figure(
                raw["hazard"],
                re.compile(_name(raw["words"])),
                re.compile(_FIRST if raw.get("slash") else _NUMBER),
                tuple((Decimal(low), Decimal(high)) for low, high in raw["asked"]),
                re.compile(rf"({_NUMBER})\s*[%°]?\s*c?\s*$") if raw.get("before") else None,
            )
            for raw in table.values()
        ),
        re.compile(_name(every)),
        re.compile(rf"{alternatives(beside['before'])}\W*$"),
        re.compile(rf"\s*(?:{'|'.join(re.escape(one) for one in beside['after'])})(?![\w/])"),
        re.compile(alternatives(beside["of"])),
        re.compile(rf"{alternatives(beside['of'])}\s*$"),
    )


def _name(names: list[str] | set[str]) -> str:
    """Any of the names, with or without a blank before its figure: "T 38.6", "T38.6"."""
    ordered = sorted(names, key=lambda one: (-len(one), one))
    return "(?<![\\w/])(?:" + "|".join(re.escape(one).replace(r"\ ", r"\s+") for one in ordered) + r")(?:(?=\d)|(?!\w))"
