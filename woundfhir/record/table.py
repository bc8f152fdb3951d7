"""The record as CSV: one row for each wound at each visit, the columns named by the paths of the catalogue.

A column is a path with dots and numbers (``assessment.length``, ``care.packing.1.pieces_in``,
``patient.identifiers.1.value``). What belongs to the client stands in the first row; what belongs to a wound
in the first row of that wound; what belongs to a visit in the first row of that visit. A table of several clients
has the column ``client``, by which the rows of one are told from those of another within this table.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from typing import Any

from woundfhir.record.guarded import GUARDED, YES, cells, is_guarding
from woundfhir.record.history import History

Json = Any
#: Columns of the client; and the one that tells the clients of one table apart.
TOP = ("woundfhir", GUARDED, "zone", "patient", "extra")
CLIENT = "client"
_SEP = "."


def _escape(key: str) -> str:
    return key.replace("\\", "\\\\").replace(".", "\\.")


def split(path: str) -> list[str]:
    """Return the parts of a column's name.

    Examples
    --------
    >>> split("care.packing.1.pieces_in"), split(r"assessment.tissue.a\\.b")
    (['care', 'packing', '1', 'pieces_in'], ['assessment', 'tissue', 'a.b'])
    """
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
    return _written([dict(row) for row in _rows(history)])


def to_csv_many(histories: Sequence[History]) -> bytes:
    """Write the records of several clients as one table, told apart by the column ``client``.

    Examples
    --------
    >>> clients = [History.of({"woundfhir": 1, "patient": {"born": born}}) for born in ("1948", "1950")]
    >>> to_csv_many(clients).decode().splitlines()
    ['client,woundfhir,patient.born', 'client 1,1,1948', 'client 2,1,1950']
    """
    if len(histories) == 1:
        return to_csv(histories[0])
    numbered = enumerate(histories, 1)
    return _written([{CLIENT: f"client {number}", **dict(row)} for number, one in numbered for row in _rows(one)])


def _written(rows: list[dict[str, str]]) -> bytes:
    if is_guarding():
        first, *more = rows
        rows = [{**first, GUARDED: YES}, *more]
    columns: dict[str, None] = {}
    for row in rows:
        columns.update(dict.fromkeys(row))
    order = sorted(columns, key=_rank)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(order)
    writer.writerows(cells(row.get(name, "") for name in order) for row in rows)
    return out.getvalue().encode()


def _rank(column: str) -> tuple[Any, ...]:
    """Columns in the order of the record: the client, the visit, the wound, then what was found and done."""
    parts = split(column)
    head = (
        CLIENT,
        "woundfhir",
        GUARDED,
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
    first: Json = {key: data[key] for key in TOP if key in data}
    wounds = {wound["id"]: wound for wound in data["wounds"]}
    described: set[str] = set()

    def cells_of(wound_id: str) -> dict[str, Json]:
        if wound_id in described:
            return {"wound": {"id": wound_id}}
        described.add(wound_id)
        return {"wound": wounds[wound_id]}

    lines: list[dict[str, Json]] = []
    for wound in data["wounds"]:  # Every wound once, in its order, before the visits.
        lines.append(cells_of(wound["id"]))
    for visit in data["visits"]:
        head = {key: value for key, value in visit.items() if key != "wounds"}
        entries = visit.get("wounds") or [{}]
        for number, entry in enumerate(entries):
            line: dict[str, Json] = {"visit": head if number == 0 else {"id": visit["id"]}}
            if "wound" in entry:
                line.update(cells_of(entry["wound"]))
            line.update({key: value for key, value in entry.items() if key != "wound"})
            lines.append(line)
    for number, line in enumerate(lines or [{}]):
        yield _flat({**first, **line} if number == 0 else line, "")
