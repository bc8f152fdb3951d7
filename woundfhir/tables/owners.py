"""Whose is each row: decided by the one function for evidence; then the rows of each client are brought together.

Rows wait in a temporary database, and so does what tells clients apart: a table of any length needs the memory of one
client, and the rows of each need not stand together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from woundfhir.errors import InputError
from woundfhir.record.clients import is_placeholder, plain_number
from woundfhir.record.table_clients import Cell, Clients, Column, Row
from woundfhir.scratch import scratch
from woundfhir.tables.cell_words import YES
from woundfhir.tables.cells import Reader
from woundfhir.tables.layout import SUMMED, TOTALS, folded
from woundfhir.tables.plan import Plan, texts
from woundfhir.tables.sheet import Line, Number, Odd, Stamp, Struck
from woundfhir.tables.vocabulary import takes_back, words

#: How many rows go into the database at once.
_BATCH = 5_000
_NO_NUMBER = "it names no client: no number, or none of the columns that tell clients apart"
_TAKEN_BACK = "a column that the mapping does not read says that the row was deleted or entered in error"
_SAID = YES | {"x", "1", "\u2713", "\u2714"}
_KEY: Column = ("patient", "identifiers", "table", "value")
#: What stands for the client of a row that names none of them.
NOBODY = -1
_encode = msgspec.msgpack.Encoder().encode
_decode = msgspec.msgpack.Decoder(tuple[int, list[str | tuple[int, str]], str, str, str]).decode
_KINDS = (Stamp, Number, Odd, Struck)


def put_away(line: Line, kind: str = "", place: str = "") -> bytes:
    """Return a row as bytes; ``kind`` and ``place`` are those of a row that is set aside."""
    cells = [cell if type(cell) is str else (_KINDS.index(type(cell)), str(cell)) for cell in line.cells]
    return _encode((line.number, cells, line.fault, kind, place))


def taken_out(raw: bytes) -> tuple[Line, str, str]:
    """Return a row that was put away, with ``kind`` and ``place``.

    Examples
    --------
    >>> taken_out(put_away(Line(7, ["17", Number("4.2")])))[0]
    Line(number=7, cells=['17', '4.2'], fault='')
    """
    number, cells, fault, kind, place = _decode(raw)
    line = [cell if isinstance(cell, str) else _KINDS[cell[0]](cell[1]) for cell in cells]
    return Line(number, line, fault), kind, place


class Waiting:
    """The rows of a table, put away as they come and given back client by client."""

    def __init__(self) -> None:
        self._base = scratch()
        self._base.execute("CREATE TABLE line (client INTEGER, number INTEGER, cells BLOB)")
        self._batch: list[tuple[int, int, bytes]] = []

    def put(self, client: int, line: Line, kind: str = "", place: str = "") -> None:
        """Put a row away; ``kind`` and ``place`` are those of a row that is set aside."""
        self._batch.append((client, line.number, put_away(line, kind, place)))
        if len(self._batch) >= _BATCH:
            self._flush()

    def _flush(self) -> None:
        self._base.execute("BEGIN")
        self._base.executemany("INSERT INTO line VALUES (?, ?, ?)", self._batch)
        self._base.execute("COMMIT")
        self._batch.clear()

    def clients(self) -> Iterator[tuple[int, Iterator[tuple[Line, str, str]]]]:
        """Yield the rows of each client, in the order in which the clients came; nobody's come last."""
        self._flush()
        self._base.execute("CREATE INDEX whose ON line (client, number)")
        for where in ("client >= 0", "client < 0"):
            for (number,) in self._base.execute(f"SELECT DISTINCT client FROM line WHERE {where} ORDER BY client"):
                yield number, self._of(number)

    def _of(self, client: int) -> Iterator[tuple[Line, str, str]]:
        for (raw,) in self._base.execute("SELECT cells FROM line WHERE client = ? ORDER BY number", (client,)):
            yield taken_out(raw)

    def close(self) -> None:
        """Let the rows go."""
        self._base.close()


def sort_out(plan: Plan, waiting: Waiting) -> None:
    """Put every row of a table away under the number of its client, or under ``NOBODY`` with the reason."""
    where = plan.laid.sheet.where
    clients = Clients((), where)
    about = list(plan.about("patient"))
    above: dict[int, str] = {}
    for line in plan.laid.lines:
        if line.fault:
            waiting.put(NOBODY, line, "not-understood")
            continue
        if len(line.cells) > len(plan.laid.header) and any(line.cells[len(plan.laid.header) :]):
            fault = "it has more cells than the header has names: they may have shifted"
            waiting.put(NOBODY, line._replace(fault=fault), "not-understood")
            continue
        if _is_sum(plan, line):
            plan.laid.notes.setdefault(TOTALS, []).append(line.number)
            continue
        _fill_down(plan, line, above)
        taken_back = is_taken_back(plan, line)
        row = Row(line.number, _who(plan, about, line))
        if not any(column[1] == "identifiers" and column[-1] == "value" for column in row.cells):
            # A client without a number would be like every other one: the row must not found one.
            waiting.put(NOBODY, line._replace(fault=_NO_NUMBER), "not-understood")
            continue
        try:
            owner = clients.of(row)
        except InputError as error:
            place = error.where.removeprefix(f"{where}, ")
            waiting.put(NOBODY, line._replace(fault=error.found or error.expected), "conflict", place)
            continue
        if taken_back:
            waiting.put(NOBODY if owner is None else owner, line._replace(fault=_TAKEN_BACK), "withdrawn")
            continue
        waiting.put(NOBODY if owner is None else owner, line)


def _is_sum(plan: Plan, line: Line) -> bool:
    """Whether a row with a day sums others up: the word stands where a client, a wound or a visit is named."""
    naming = (at for at, reader in plan.readers.items() if reader.targets[0].head in ("patient", "wound", "visit"))
    return any(SUMMED.fullmatch(line.cell(position)) for position in naming)


def is_taken_back(plan: Plan, line: Line) -> bool:
    """Whether a row says in a column that the mapping does not read that it does not count."""
    for position in plan.aside:
        text = folded(line.cell(position))
        if not text:
            continue
        ticked, state = takes_back(plan.laid.header[position])
        if text in words("withdrawn") or (ticked and text in _SAID) or (state and text in words("withdrawn_states")):
            return True
    return False


def number_of(plan: Plan, line: Line) -> str:
    """Return the number by which a row names its client, as numbers are compared; empty where it names none."""
    found = _who(plan, list(plan.about("patient")), line) if not line.fault else {}
    numbers = [cell.text for column, cell in found.items() if column[1] == "identifiers" and column[-1] == "value"]
    return plain_number(numbers[0]) if numbers else ""


def _who(plan: Plan, about: Sequence[tuple[int, Reader]], line: Line) -> dict[Column, Cell]:
    """Return what a row says of who the client is."""
    cells: dict[Column, Cell] = {}
    for position, reader in about:
        text = line.cell(position)
        for fact in reader.read(text).facts if text else ():
            number = fact.column[1] == "identifiers" and fact.column[-1] == "value"
            if not (number and is_placeholder(fact.text)):
                cells[fact.column] = Cell(fact.text, line.number, position + 1)
    for one in plan.constants:
        if one.target.head == "patient" and (cells or plan.mapping.one_client):
            cells.setdefault(one.column, Cell(one.text, line.number, 0))
    says = [position for position in plan.client if not is_placeholder(line.cell(position))]
    key = folded(texts(line.cells, plan.client)) if says else ""
    key = key or ("the only client" if plan.mapping.one_client else "")
    if key:
        cells[_KEY] = Cell(key, line.number, plan.client[0] + 1 if plan.client else 0)
    return cells


def _fill_down(plan: Plan, line: Line, above: dict[int, str]) -> None:
    """Write into a blank cell what stands above it, where the mapping says so, up to the next client."""
    filled = [position for position in plan.fill_down if line.cell(position)]
    first = plan.fill_down[0] if plan.fill_down else None
    if first is not None and first in filled:
        above.clear()
    for position in plan.fill_down:
        if position in filled:
            above[position] = line.cells[position]
        elif position in above:
            line.cells.extend([""] * (position + 1 - len(line.cells)))
            line.cells[position] = above[position]
