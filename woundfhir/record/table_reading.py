"""Reading the record as CSV: rows to clients, then cells to facts; a cell that contradicts an earlier one is refused.

Commas, semicolons or tabs between the cells; UTF-8, with or without a byte order mark. Whose a row is, the ``client``
column decides where there is one, and else the columns of the client (see ``table_clients``).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NoReturn

from woundfhir.errors import InputError
from woundfhir.limits import CELL_LENGTH, CELLS, COLUMN_LENGTH, COLUMN_NUMBER, COLUMNS
from woundfhir.record.guarded import GUARDED, unguard
from woundfhir.record.history import History
from woundfhir.record.leaf import key_of
from woundfhir.record.table import CLIENT, TOP, split
from woundfhir.record.table_clients import Cell, Column, Row, assigned

Json = Any
Cells = dict[Column, Cell]
_HEADS = frozenset((*TOP, CLIENT, "wound", "visit", "assessment", "care", "supplies", "plan", "photos", "note"))
#: What may stand between two cells.
DELIMITERS = ",;\t"


def read_csv(content: str, where: str) -> list[History]:
    """Read the records in a table, one for each client.

    Parameters
    ----------
    content
        The text of the table, without a byte order mark.
    where
        Its name, for messages.

    Returns
    -------
    list of History
        In the order in which the clients come first; one for a table that names no client at all.

    Raises
    ------
    InputError
        With row and column: no header, a column twice, a row without wound or visit, more cells than columns, a cell
        that contradicts an earlier one, a row of which it cannot be told whose it is. Never a value.

    Examples
    --------
    >>> two = "patient.identifiers.1.value,wound.id\\nA-1,W1\\nB-2,W1\\n"
    >>> [len(one.wounds) for one in read_csv("woundfhir," + two.replace("\\n", "\\n1,", 2), "table")]
    [1, 1]
    """
    rows = _rows(content, where)
    if not rows:
        raise InputError(where, "a header row", "Name the columns as `woundfhir catalogue` lists them")
    (first, names), *rest = rows
    columns = _columns(names, f"{where}, row {first}")
    if (GUARDED,) in columns:
        rest = [(number, [unguard(cell) for cell in row]) for number, row in rest]
    lines = [Row(number, _cells(cells, columns, number, where)) for number, cells in rest]
    for line in lines:
        line.cells.pop((GUARDED,), None)
    version = next((one.cells[("woundfhir",)].text for one in lines if ("woundfhir",) in one.cells), None)
    clients: dict[int, _Client] = {}
    for line, client in assigned(lines, where):
        clients.setdefault(client, _Client(where)).take(line)
    several = len(clients) > 1
    found = (clients or {0: _Client(where)}).items()
    return [
        History.of(one.record(version), f"{where}, client {number + 1}" if several else where) for number, one in found
    ]


# -- rows and columns ------------------------------------------------------------------------------


def _rows(content: str, where: str) -> list[tuple[int, list[str]]]:
    """Return number and cells of each row that is not empty; refuse more than any record has."""
    csv.field_size_limit(CELL_LENGTH)
    out: list[tuple[int, list[str]]] = []
    cells = number = 0
    delimiter = _delimiter(content)
    try:
        reader = csv.reader(_bounded(content, where, delimiter), strict=True, delimiter=delimiter)
        for number, row in enumerate(reader, 1):
            cells += len(row)
            if len(row) > COLUMNS:
                raise InputError(f"{where}, row {number}", f"at most {COLUMNS:,} columns", "Take the empty ones out")
            if cells > CELLS:
                raise InputError(f"{where}, row {number}", f"at most {CELLS:,} cells", "Split the table")
            if any(cell.strip() for cell in row):
                out.append((number, row))
    except csv.Error as error:
        if "field limit" in str(error):
            expected = f"at most {CELL_LENGTH:,} characters in a cell"
            raise InputError(f"{where}, row {number + 1}", expected, "Close the quotes, or shorten the text") from None
        place = f"{where}, row {number + 1}"
        raise InputError(place, "CSV with quotes closed", "Save it again as CSV, comma separated, UTF-8") from None
    return out


def _delimiter(content: str) -> str:
    """Return what stands between the names of the columns: that by which most of them are known."""
    first = content.lstrip().split("\n", 1)[0][: CELL_LENGTH * 2]

    def known(delimiter: str) -> int:
        return sum(key_of(name.strip("\"' \r").split(".")[0]) in _HEADS for name in first.split(delimiter))

    return max(DELIMITERS, key=known)


def _bounded(content: str, where: str, delimiter: str) -> Iterator[str]:
    """Yield line after line; a line of commas alone would become a list of as many texts."""
    for number, line in enumerate(io.StringIO(content, newline=""), 1):
        if line.count(delimiter) > CELL_LENGTH:
            raise InputError(f"{where}, line {number}", f"at most {COLUMNS:,} columns", "Take the empty ones out")
        yield line


def _columns(header: list[str], where: str) -> list[Column]:
    """Return the columns by the parts of their names; refuse one that stands twice, in whatever spelling."""
    found: list[Column] = []
    known: dict[Column, int] = {}
    for place, given in enumerate(header, 1):
        name, here = given.strip(), f"{where}, column {place}"
        if len(name) > COLUMN_LENGTH:
            expected = f"at most {COLUMN_LENGTH} characters in the name of a column"
            raise InputError(here, expected, "Name it as `woundfhir catalogue` lists it")
        parts = split(name)
        numbers = [part for part in parts if part.isascii() and part.isdigit()]
        if any(len(part) > 9 or int(part) > COLUMN_NUMBER for part in numbers):
            expected = f"numbers up to {COLUMN_NUMBER:,} in the name of a column"
            raise InputError(here, expected, "Number the columns from 1")
        column = tuple(str(int(part)) if part in numbers else part for part in parts)
        column = (*(key_of(part) if key_of(part) else part for part in column[:2]), *column[2:])
        if name and column in known:
            wrong = f"it is the same as column {known[column]}"
            raise InputError(here, "each column once", "Rename or remove one of the two", found=wrong)
        known.setdefault(column, place)
        found.append(column)
    return found


def _cells(cells: list[str], columns: list[Column], row: int, where: str) -> Cells:
    if any(cell.strip() for cell in cells[len(columns) :]):
        raise InputError(f"{where}, row {row}", "no more cells than columns", "Put text with commas in quotes")
    found: Cells = {}
    for place, (column, text) in enumerate(zip(columns, cells, strict=False), 1):
        if not text.strip():
            continue
        if column == ("",):
            expected = "a name in the header for each column with cells"
            raise InputError(f"{where}, row {row}, column {place}", expected, "Name the column")
        found[column] = Cell(text.strip(), row, place)
    return found


# -- one client ------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Client:
    """What the rows of one client say: of the client, of each wound, each visit, and each wound at a visit."""

    where: str
    top: Cells = field(default_factory=dict)
    wounds: dict[str, Cells] = field(default_factory=dict)
    visits: dict[str, Cells] = field(default_factory=dict)
    seen: dict[tuple[str, str], Cells] = field(default_factory=dict)

    def take(self, row: Row) -> None:
        """Put the cells of a row where they belong."""
        parts: dict[str, Cells] = {"top": {}, "wound": {}, "visit": {}, "entry": {}}
        for column, cell in row.cells.items():
            head = column[0] if column[0] in ("wound", "visit") else "top" if column[0] in TOP else "entry"
            if column[0] != CLIENT:
                parts[head][column if head in ("top", "entry") else column[1:]] = cell
        wound, visit = self._id("wound", parts["wound"]), self._id("visit", parts["visit"])
        self._put(self.top, parts["top"])
        if wound is not None:
            self._put(self.wounds.setdefault(wound, {}), parts["wound"])
        if visit is not None:
            self._put(self.visits.setdefault(visit, {}), parts["visit"])
        if wound is not None and visit is not None:
            self._put(self.seen.setdefault((visit, wound), {}), parts["entry"])
        elif parts["entry"]:
            expected = "the columns visit.id and wound.id beside an answer"
            self._refuse(next(iter(parts["entry"].values())), expected, "Say which visit and wound it belongs to")

    def _id(self, name: str, cells: Cells) -> str | None:
        if not cells:
            return None
        wrong = next((cell for column, cell in cells.items() if column[:1] == ("id",) != column or not column), None)
        if wrong is not None or ("id",) not in cells:
            expected = f"a value in the column {name}.id, and no column below it"
            self._refuse(wrong or next(iter(cells.values())), expected, f"Give the {name} an id")
        return cells["id",].text

    def _put(self, known: Cells, cells: Cells) -> None:
        for column, cell in cells.items():
            before = known.setdefault(column, cell)
            if before.text != cell.text:
                wrong = f"it contradicts the cell in row {before.row} of this column, about the same thing"
                expected = "one answer to one question"
                fix = "Correct the wrong one of the two, or give the other client, wound or visit an id of its own"
                self._refuse(cell, expected, fix, wrong)

    def _refuse(self, cell: Cell, expected: str, fix: str, found: str = "") -> NoReturn:
        raise InputError(f"{self.where}, row {cell.row}, column {cell.column}", expected, fix, found=found)

    def record(self, version: str | None) -> dict[str, Json]:
        """Return the raw record of the client."""
        top = self._tree(self.top)
        visits = {name: {**self._tree(cells)} for name, cells in self.visits.items()}
        for (visit, wound), cells in self.seen.items():
            visits[visit].setdefault("wounds", []).append({"wound": wound, **self._tree(cells)})
        wounds = [self._tree(cells) for cells in self.wounds.values()]
        said = {} if version is None else {"woundfhir": version}
        return {**said, "patient": {}, **top, "wounds": wounds, "visits": list(visits.values())}

    def _tree(self, cells: Cells) -> dict[str, Json]:
        """Build dicts and lists from the parts of columns."""
        root: dict[str, Json] = {}
        for column, cell in cells.items():
            here = root
            for part in column[:-1]:
                found = here.setdefault(part, {})
                if not isinstance(found, dict):
                    self._above(cell)
                here = found
            if column[-1] in here:
                self._above(cell)
            here[column[-1]] = cell.text
        return {key: lists(item) for key, item in root.items()}  # a column of a number alone makes no list of it

    def _above(self, cell: Cell) -> NoReturn:
        fix = "Leave one of the two empty: the answer itself, or its parts"
        wrong = "another column holds a part of this one, or the whole of it, about the same thing"
        self._refuse(cell, "an answer in one column, or its parts in columns below it", fix, wrong)


def lists(value: Json) -> Json:
    if not isinstance(value, dict):
        return value
    if value and all(key.isascii() and key.isdigit() for key in value):
        return [lists(value[key]) for key in sorted(value, key=int)]
    return {key: lists(item) for key, item in value.items()}
