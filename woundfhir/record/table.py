"""The record as CSV: one row for each wound at each visit, the columns named by the paths of the catalogue.

A column is a path with dots and numbers (``assessment.length``, ``care.packing.1.pieces_in``,
``patient.identifiers.1.value``). What belongs to the client stands in the first row; what belongs to a wound
in the first row of that wound; what belongs to a visit in the first row of that visit.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Any

from woundfhir.errors import InputError
from woundfhir.limits import CELL_LENGTH, CELLS, COLUMN_LENGTH, COLUMN_NUMBER, COLUMNS
from woundfhir.record.history import History

Json = Any
_TOP = ("woundfhir", "zone", "patient", "extra")
_SEP = "."


def _escape(key: str) -> str:
    return key.replace("\\", "\\\\").replace(".", "\\.")


def _split(path: str) -> list[str]:
    parts, here, escaped = [], "", False
    for char in path:
        if escaped:
            here, escaped = here + char, False
        elif char == "\\":
            escaped = True
        elif char == _SEP:
            parts.append(here)
            here = ""
        else:
            here += char
    return [*parts, here]


def _flat(value: Json, path: str) -> Iterator[tuple[str, str]]:
    """Yield (column, text) of everything below a value; list items are numbered from 1."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _flat(item, f"{path}{_SEP}{_escape(key)}" if path else _escape(key))
    elif isinstance(value, list):
        for number, item in enumerate(value, 1):
            yield from _flat(item, f"{path}{_SEP}{number}")
    else:
        yield path, str(value)


def to_csv(history: History) -> bytes:
    """Write the record as CSV (RFC 4180, UTF-8, line ends CR LF).

    Examples
    --------
    >>> to_csv(History.of({"woundfhir": 1, "patient": {"born": "1948-03"}})).decode().splitlines()
    ['woundfhir,patient.born', '1,1948-03']
    """
    rows = [dict(row) for row in _rows(history)]
    columns: dict[str, None] = {}
    for row in rows:
        columns.update(dict.fromkeys(row))
    order = sorted(columns, key=_rank)
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, fieldnames=order, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def _rank(column: str) -> tuple[Any, ...]:
    """Columns in the order of the record: the client, the visit, the wound, then what was found and done."""
    parts = _split(column)
    head = (
        "woundfhir",
        "zone",
        "patient",
        "wound",
        "visit",
        "assessment",
        "care",
        "supplies",
        "plan",
        "photos",
        "note",
        "extra",
    )
    return (head.index(parts[0]) if parts[0] in head else len(head), _natural(parts))


def _natural(parts: list[str]) -> tuple[tuple[int, int, str], ...]:
    return tuple((0, int(p), "") if p.isascii() and p.isdigit() else (1, 0, p) for p in parts)


def _rows(history: History) -> Iterator[Iterator[tuple[str, str]]]:
    data = history.data
    first: Json = {key: data[key] for key in _TOP if key in data}
    wounds = {wound["id"]: wound for wound in data["wounds"]}
    told: set[str] = set()

    def tell(wound_id: str) -> dict[str, Json]:
        if wound_id in told:
            return {"wound": {"id": wound_id}}
        told.add(wound_id)
        return {"wound": wounds[wound_id]}

    lines: list[dict[str, Json]] = []
    for wound in data["wounds"]:  # Every wound once, in its order, before the visits.
        lines.append(tell(wound["id"]))
    for visit in data["visits"]:
        head = {key: value for key, value in visit.items() if key != "wounds"}
        entries = visit.get("wounds") or [{}]
        for number, entry in enumerate(entries):
            line: dict[str, Json] = {"visit": head if number == 0 else {"id": visit["id"]}}
            if "wound" in entry:
                line.update(tell(entry["wound"]))
            line.update({key: value for key, value in entry.items() if key != "wound"})
            lines.append(line)
    for number, line in enumerate(lines or [{}]):
        yield _flat({**first, **line} if number == 0 else line, "")


def read_csv(content: str, where: str) -> History:
    """Read a record from CSV.

    Raises
    ------
    InputError
        With the row: no header, a column twice, a row without wound or visit, more cells than columns.
    """
    lines = [line for line in _lines(content, where) if any(cell.strip() for cell in line)]
    if not lines:
        raise InputError(where, "a header row", "Name the columns as `woundfhir catalogue` lists them")
    header = [cell.strip() for cell in lines[0]]
    if len(set(header)) != len(header):
        raise InputError(f"{where}, row 1", "each column once", "Rename or remove one of the two")
    _refuse_names(header, where)
    top: dict[str, Json] = {}
    wounds: dict[str, Json] = {}
    visits: dict[str, Json] = {}
    for number, cells in enumerate(lines[1:], 2):
        if len(cells) > len(header):
            raise InputError(f"{where}, row {number}", "no more cells than columns", "Put text with commas in quotes")
        row = _tree([(c, v) for c, v in zip(header, cells, strict=False) if v.strip()])
        _take(row, top, wounds, visits, f"{where}, row {number}")
    raw = {"patient": {}, **top, "wounds": list(wounds.values()), "visits": list(visits.values())}
    return History.of(raw, where)


def _lines(content: str, where: str) -> list[list[str]]:
    """Return the rows of a table; refuse more than any record has before it takes memory."""
    csv.field_size_limit(CELL_LENGTH)
    out: list[list[str]] = []
    cells = 0
    try:
        for number, row in enumerate(csv.reader(_bounded(content, where), strict=True), 1):
            cells += len(row)
            if len(row) > COLUMNS:
                raise InputError(f"{where}, row {number}", f"at most {COLUMNS:,} columns", "Take the empty ones out")
            if cells > CELLS:
                raise InputError(f"{where}, row {number}", f"at most {CELLS:,} cells", "Split the table")
            out.append(row)
    except csv.Error as error:
        if "field limit" in str(error):
            expected = f"at most {CELL_LENGTH:,} characters in a cell"
            raise InputError(
                f"{where}, row {len(out) + 1}", expected, "Close the quotes, or shorten the text"
            ) from None
        raise InputError(where, "CSV with quotes closed", "Save it again as CSV, comma separated, UTF-8") from None
    return out


def _bounded(content: str, where: str) -> Iterator[str]:
    """Yield line after line; a line of commas alone would become a list of as many texts."""
    for number, line in enumerate(io.StringIO(content, newline=""), 1):
        if line.count(",") > CELL_LENGTH:
            raise InputError(f"{where}, line {number}", f"at most {COLUMNS:,} columns", "Take the empty ones out")
        yield line


def _refuse_names(header: list[str], where: str) -> None:
    for place, name in enumerate(header, 1):
        if len(name) > COLUMN_LENGTH:
            expected = f"at most {COLUMN_LENGTH} characters in the name of a column"
            raise InputError(f"{where}, row 1, column {place}", expected, "Name it as `woundfhir catalogue` lists it")
        numbers = [part for part in _split(name) if part.isascii() and part.isdigit()]
        if any(int(part) > COLUMN_NUMBER for part in numbers):
            expected = f"numbers up to {COLUMN_NUMBER:,} in the name of a column"
            raise InputError(f"{where}, row 1, column {place}", expected, "Number the columns from 1")


def _take(
    row: dict[str, Json], top: dict[str, Json], wounds: dict[str, Json], visits: dict[str, Json], where: str
) -> None:
    wound, visit = row.pop("wound", None), row.pop("visit", None)
    for part, name in ((wound, "wound"), (visit, "visit")):
        if part is not None and not (isinstance(part, dict) and isinstance(part.get("id"), str)):
            raise InputError(
                where, f"a value in the column {name}.id, and no column below it", f"Give the {name} an id"
            )
    for key in _TOP:
        if key in row:
            top.setdefault(key, row.pop(key))
    if wound:
        wounds.setdefault(wound["id"], {}).update(wound)
    if visit:
        kept = visits.setdefault(visit["id"], {})
        kept.update(visit)
        if wound:
            kept.setdefault("wounds", []).append({"wound": wound["id"], **row})
            row = {}
    if row:
        raise InputError(
            where, "the columns visit.id and wound.id beside an answer", "Say which visit and wound it belongs to"
        )


def _tree(cells: list[tuple[str, str]]) -> dict[str, Json]:
    """Build dicts and lists from dotted columns."""
    root: dict[str, Json] = {}
    for column, text in cells:
        parts = _split(column)
        here = root
        for part in parts[:-1]:
            found = here.setdefault(part, {})
            if not isinstance(found, dict):
                found = here[part] = {"": found}
            here = found
        here[parts[-1]] = text
    return _lists(root)  # type: ignore[no-any-return]


def _lists(value: Json) -> Json:
    if not isinstance(value, dict):
        return value
    if value and all(key.isascii() and key.isdigit() for key in value):
        return [_lists(value[key]) for key in sorted(value, key=int)]
    return {key: _lists(item) for key, item in value.items()}
