"""One table as it came: where it stands, what was found out about its form, and its rows as texts."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple


class Stamp(str):
    """The text of a cell that says by itself that it is a date or a time: ISO 8601, whatever the column's form."""

    __slots__ = ()


class Number(str):
    """The text of a cell that is a number by itself: its point is a decimal point, whatever the column's form."""

    __slots__ = ()


class Struck(str):
    """The text of a cell that is struck through: taken back by whoever drew the line."""

    __slots__ = ()


class Odd(str):
    """Stands for a value that has no form in a record, such as bytes: the words say what it is."""

    __slots__ = ()


class Line(NamedTuple):
    """A row as it came.

    Attributes
    ----------
    number
        Counted from 1, as a spreadsheet counts.
    cells
        Its cells, blanks around them taken away.
    fault
        What keeps the whole row from being read; empty for one that can be.
    """

    number: int
    cells: list[str]
    fault: str = ""

    @property
    def blank(self) -> bool:
        """Whether nothing is written in it."""
        return not any(self.cells)

    def cell(self, position: int | None) -> str:
        """Return what stands in a column; nothing where the row is shorter."""
        return self.cells[position] if position is not None and position < len(self.cells) else ""


@dataclass(slots=True)
class Sheet:
    """A table as it came.

    Attributes
    ----------
    where
        Its file, and its sheet where there are several.
    found
        What was found and concluded about its form, a sentence each; ``forms`` has what came to be known since.
    lines
        Its rows, read once.
    kind
        ``CSV``, ``XLSX`` or ``rows``.
    """

    where: str
    kind: str
    lines: Iterator[Line]
    found: list[str] = field(default_factory=list)
    #: What is known only when rows have been read: the encoding.
    later: Callable[[], str] = str
    #: What whoever reads the table must look at, a sentence each: it stands in every report.
    notices: list[str] = field(default_factory=list)
    #: The year from which a workbook counts days: 1900 or 1904; empty where nothing says so.
    counted_from: str = ""

    def forms(self) -> list[str]:
        """Return what is known of its form by now, a sentence each."""
        return [*self.found, *filter(None, [self.later()])]
