"""The lines that may be of one client: where they stand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from woundfhir.bulk.lines import Files, Part

#: A row of the index: its place among all lines that are not blank; the number of its file, its line, where it stands
#: there, and its length.
Row = tuple[int, int, int, int, int]


@dataclass(frozen=True, slots=True)
class Group:
    """What may be of one client: where its lines stand, and the file and number of each."""

    files: Files
    stretches: list[Part]
    places: list[tuple[int, int]]

    @property
    def content(self) -> bytes:
        """Its lines."""
        return self.files.together(self.stretches)


def group_of(files: Files, rows: list[Row]) -> Group:
    """Return what stands in rows, in their order."""
    return Group(files, _stretches(rows), [(file, line) for _, file, line, _, _ in rows])


def _stretches(rows: Iterable[Row]) -> list[Part]:
    """Return where lines stand, those that follow each other in one stretch."""
    found: list[Part] = []
    last, start, end = -1, 0, 0
    for _, file, _, at, size in rows:
        if file != last or at != end:
            if last >= 0:
                found.append(Part(last, start, end))
            last, start = file, at
        end = at + size
    return [*found, Part(last, start, end)] if last >= 0 else found
