"""Pieces of packing that do not add up in the words of a note: "two pieces packed, one removed", "2 of 3 strips out".

More taken out than were in, or the other order ("1 out, 2 in": an old one and two new ones), asks nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from woundfhir.catalogue import per_catalogue
from woundfhir.freetext.language import Language
from woundfhir.freetext.note import Note


class _Counts(NamedTuple):
    """The ways of counting in a language, with the groups of what was in and what came out; what names pieces."""

    ways: tuple[tuple[re.Pattern[str], int, int], ...]
    pieces: re.Pattern[str]


def find_counts(note: Note) -> Iterator[tuple[str, int, int]]:
    """Yield (hazard, start, end) for each count of pieces by which fewer came out than were in, in ``note.low``."""
    known = _counts(note.words)
    if known.pieces.search(note.low) is None:
        return
    for pattern, put, out in known.ways:
        for found in pattern.finditer(note.low):
            begin, finish = note.sentence(found.start())
            fewer = float(note.words.figure(found[out])) < float(note.words.figure(found[put]))
            if fewer and known.pieces.search(note.low, begin, finish):
                yield "packing", *found.span()


@per_catalogue()
def _counts(words: Language) -> _Counts:
    number, pieces = rf"(?<![\d.,/])({words.number})(?![\d.,/]\d)", words.words("pieces")
    named = rf"(?:\s*(?:{words.words('of')}\s*)?{pieces}){{0,2}}"
    be = rf"(?:\s*{words.listed('negation', 'be')})?"
    put, out = words.words("counted_in"), words.words("counted_out")
    gap = r"\s*[,;]?\s*(?:\w+\s+){0,2}?"
    one_of = words.words("one_of")
    return _Counts(
        (
            (re.compile(rf"{number}{named}{be}\s*{put}{gap}{number}{named}{be}\s*{out}"), 1, 2),
            (re.compile(rf"{words.words('pulled')}\s+{number}{named}\s*{one_of}\s*{number}{named}"), 2, 1),
            (re.compile(rf"{number}{named}\s*{one_of}\s*{number}{named}{be}\s*{out}"), 2, 1),
            (re.compile(rf"{number}{named}{be}\s*{out}\s*{one_of}\s*{number}"), 2, 1),
        ),
        re.compile(pieces),
    )
