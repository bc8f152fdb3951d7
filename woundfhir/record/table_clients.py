"""Whose is a row of a table? Rows of two clients are never joined; a row of which it cannot be told is refused.

A row with another client's number begins, or goes on with, that client's history. A row that names nobody goes on with
the client above it, where the rows of each client stand together. The grades are those of ``clients.evidence``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple, NoReturn

import msgspec

from woundfhir.errors import InputError
from woundfhir.record.clients import Evidence, evidence, identifiers, is_placeholder, plain_number
from woundfhir.record.table import CLIENT
from woundfhir.scratch import scratch

Json = Any
#: A column, by the parts of its name.
Column = tuple[str, ...]
#: What identifies a client -> the key under ``patient``.
_KEYS = {"identifier": "identifiers", "birth date": "born", "name": "name", "sex": "sex"}
_encode = msgspec.msgpack.Encoder().encode
_decode = msgspec.msgpack.Decoder(dict[Column, str]).decode
_FIX = "Give each row the client's identifier with its system, or tell the clients apart in a column named client"


class Cell(NamedTuple):
    """A cell that is not empty, without blanks around it, and where it stands."""

    text: str
    row: int
    column: int


class Row(NamedTuple):
    """A row of the table: its number, and its cells that are not empty."""

    number: int
    cells: dict[Column, Cell]


def assigned(rows: Sequence[Row], where: str) -> Iterator[tuple[Row, int]]:
    """Yield every row with the number of its client, from 0 in the order of their first rows.

    Raises
    ------
    InputError
        With the row, and the column where there is one, when it cannot be told whose it is.
    """
    labelled = any((CLIENT,) in row.cells for row in rows)
    clients = _Labels(where) if labelled else Clients(rows, where)
    owners = [clients.of(row) for row in rows]
    if clients.count > 1:
        _refuse_unclear(rows, owners, where)
    last = 0
    for row, owner in zip(rows, owners, strict=True):
        last = last if owner is None else owner
        yield row, last


def _refuse_unclear(rows: Sequence[Row], owners: list[int | None], where: str) -> None:
    """A row that names nobody is clear only below a row that does, where each client's rows stand together."""
    named = [owner for owner in owners if owner is not None]
    blocks = [owner for place, owner in enumerate(named) if place == 0 or named[place - 1] != owner]
    mixed = len(blocks) > len(set(blocks))
    above = False
    for row, owner in zip(rows, owners, strict=True):
        above = above or owner is not None
        if owner is None and (mixed or not above):
            wrong = "it names no client, and the table holds several"
            raise InputError(f"{where}, row {row.number}", "the client of each row", _FIX, found=wrong)


class _Labels:
    """Clients by the column ``client``."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.numbers: dict[str, int] = {}

    @property
    def count(self) -> int:
        return len(self.numbers)

    def of(self, row: Row) -> int | None:
        """Return the client of a row, None where it names none."""
        cell = row.cells.get((CLIENT,))
        named = next((found for column, found in row.cells.items() if column[0] == "patient"), None)
        if cell is None and named is None:
            return None
        if cell is None or is_placeholder(cell.text):
            place = f"{self.where}, row {row.number}" + (f", column {cell.column}" if cell else "")
            fix = "Fill it in for each row, such as client 1, client 2"
            raise InputError(place, f"what tells this client from the others, in the column {CLIENT}", fix)
        return self.numbers.setdefault(cell.text, len(self.numbers))


class Clients:
    """Clients by what the rows say of them, on the disk: their number costs no memory."""

    def __init__(self, rows: Sequence[Row], where: str) -> None:
        self.where = where
        self.count = 0
        self.systems = _systems(rows)
        self._base = scratch(8_000)
        self._base.execute("CREATE TABLE client (number INTEGER PRIMARY KEY, first INT, cells BLOB)")
        self._base.execute("CREATE TABLE exact (cells BLOB PRIMARY KEY, number INT) WITHOUT ROWID")
        columns = "system TEXT, value TEXT, number INT, PRIMARY KEY (system, value, number)"
        self._base.execute(f"CREATE TABLE bears ({columns}) WITHOUT ROWID")
        self._base.execute("BEGIN")
        #: How many clients have a number of a system.
        self._with: Counter[str] = Counter()

    def of(self, row: Row) -> int | None:
        """Return the client of a row, None where it says nothing of who they are."""
        cells = {column: cell.text for column, cell in row.cells.items() if _identifies(column)}
        if all(column[-1] == "system" for column in cells):
            return None
        key = _encode(cells)
        known = self._base.execute("SELECT number FROM exact WHERE cells = ?", (key,)).fetchone()
        if known is not None:
            return int(known[0])
        patient = self._patient(cells)
        found = self._find(row, patient)
        if found is None:
            found = self.count
            self.count += 1
            self._know(found, row.number, cells, {})
        else:
            self._know(found, row.number, cells, self._cells(found))
        if identifiers(patient):
            self._base.execute("INSERT INTO exact VALUES (?, ?)", (key, found))
        return found

    def _find(self, row: Row, patient: dict[str, Json]) -> int | None:
        """Return the one client that a row is of, None for a new one."""
        found = None
        for number in self._candidates(patient):
            graded = evidence(patient, self._patient(self._cells(number)))
            if graded.same and found is None:
                found = number
            elif graded.same or not _others(graded):
                self._unclear(row, graded, number)
        return found

    def _candidates(self, patient: dict[str, Json]) -> Sequence[int]:
        """Return the clients to hold a row against: those with one of its numbers if all have a system of it; else all.

        Who has none of them has another number of that system, and is certainly another client.
        """
        numbers = identifiers(patient)
        if not any(self._with[system] == self.count for system in numbers):
            return range(self.count)
        pairs = ((system, value) for system, values in numbers.items() for value in values)
        return sorted({one for system, value in pairs for one in self._having(system, value)})

    def _having(self, system: str, value: str) -> list[int]:
        ask = "SELECT number FROM bears WHERE system = ? AND value = ?"
        return [number for (number,) in self._base.execute(ask, (system, plain_number(value)))]

    def _cells(self, number: int) -> dict[Column, str]:
        (cells,) = self._base.execute("SELECT cells FROM client WHERE number = ?", (number,)).fetchone()
        return _decode(cells)

    def _first(self, number: int) -> int:
        (first,) = self._base.execute("SELECT first FROM client WHERE number = ?", (number,)).fetchone()
        return int(first)

    def _know(self, number: int, row: int, cells: dict[Column, str], known: dict[Column, str]) -> None:
        """Note what a row says of a client, beside what is known."""
        merged = {**cells, **known}
        ask = "INSERT INTO client VALUES (?, ?, ?) ON CONFLICT (number) DO UPDATE SET cells = excluded.cells"
        self._base.execute(ask, (number, row, _encode(merged)))
        before = identifiers(self._patient(known))
        for system, values in identifiers(self._patient(merged)).items():
            self._with[system] += system not in before
            rows = ((system, plain_number(value), number) for value in values)
            self._base.executemany("INSERT OR IGNORE INTO bears VALUES (?, ?, ?)", rows)

    def _patient(self, cells: dict[Column, str]) -> dict[str, Json]:
        """Return what cells say of who the client is; a number without a system has that of its column or table."""
        numbered: dict[str, dict[str, str]] = {}
        patient: dict[str, Json] = {}
        name: dict[str, Json] = {}
        for (_, key, *rest), text in cells.items():
            if key == "identifiers":
                numbered.setdefault(rest[0] if rest else "", {})[rest[1] if len(rest) > 1 else "value"] = text
            elif key != "name":
                patient[key] = text
            elif rest[:1] == ["given"]:
                name.setdefault("given", []).append(text)
            else:
                name[rest[0] if rest else "text"] = text
        for number, one in numbered.items():
            one.setdefault("system", self.systems.get(number, f"this table, {number}"))
        patient["identifiers"] = list(numbered.values())
        return {**patient, "name": name} if name else patient

    def _unclear(self, row: Row, graded: Evidence, number: int) -> NoReturn:
        first = self._first(number)
        key = _KEYS[(graded.contradict or graded.agree or ("identifier",))[0]]
        cells = {column: cell for column, cell in row.cells.items() if column[:2] == ("patient", key)}
        cell = next((found for column, found in cells.items() if column[-1] != "system"), None)
        place = f"{self.where}, row {row.number}" + (f", column {cell.column}" if cell else "")
        if "identifier" in graded.agree and graded.contradict:
            wrong = f"it contradicts row {first}, whose client it names ({graded.words})"
            fix = "Correct the wrong one of the two, or give the other client the right identifier"
            raise InputError(place, "one answer to one question", fix, found=wrong)
        wrong = f"it cannot be told whether its client is that of row {first} ({graded.words})"
        raise InputError(place, "one client, or another", _FIX, found=wrong)


def _identifies(column: Column) -> bool:
    return column[0] == "patient" and len(column) > 1 and column[1] in _KEYS.values()


def _others(graded: Evidence) -> bool:
    """Whether the two are certainly two: another number, or another name where no number speaks."""
    return "identifier" not in graded.agree and bool({"identifier", "name"} & set(graded.contradict))


def _systems(rows: Sequence[Row]) -> dict[str, str]:
    """Return the system of each numbered identifier where the whole table has one; rows may leave it out."""
    found: dict[str, set[str]] = {}
    for row in rows:
        for column, cell in row.cells.items():
            if column[:2] == ("patient", "identifiers") and column[3:] == ("system",):
                found.setdefault(column[2], set()).add(cell.text)
    return {number: systems.pop() if len(systems) == 1 else "" for number, systems in found.items()}
