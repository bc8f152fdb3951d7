"""Rows of a table, from one history or many."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any
from uuid import UUID

from woundfhir.errors import InputError
from woundfhir.flat.facts import facts
from woundfhir.flat.judged import findings, verdict, visits
from woundfhir.flat.opened import Opened, Row
from woundfhir.flat.schema import Name, Table, table_of
from woundfhir.flat.sizes import sizes
from woundfhir.flat.wide import changes, clients, plans, supplies, wounds
from woundfhir.record import History

_PLAIN: dict[str, Callable[[Opened], Iterator[Row]]] = {
    "facts": facts,
    "clients": clients,
    "wounds": wounds,
    "sizes": sizes,
    "changes": changes,
    "supplies": supplies,
    "plans": plans,
}
#: Those for which the checklist judges the record.
_JUDGED = {"visits": visits, "findings": findings}


def to_rows(histories: History | Iterable[History], table: str = "facts") -> Iterator[dict[str, Any]]:
    """Yield the rows of a table with a fixed schema, for analysis.

    Parameters
    ----------
    histories
        One client's record, or those of many, each client once; they are read one after the other.
    table
        ``facts`` (one long table of everything charted), ``clients``, ``visits``, ``wounds``, ``sizes``, ``changes``
        (steps of dressing changes), ``supplies``, ``findings`` (of the checklist), ``plans``. ``woundfhir explain
        tables`` prints their columns, with unit, meaning and source.

    Yields
    ------
    dict
        Column -> text, ``Decimal`` (never rounded), int, bool, ``datetime.date``, ``datetime.datetime`` in UTC, or
        None; all columns of the table, in their order. Lengths are in cm, areas in cm2, times in days, with what was
        written beside. Only notes that count have rows: no drafts, none that was replaced or entered in error; what
        was looked for and is not there is the word ``none``, what has a reason for its absence has it in a column,
        and what nobody wrote has no row.

    Raises
    ------
    InputError
        For an unknown table, and where two histories are of one client (their visits would count twice).

    Examples
    --------
    >>> from woundfhir import History, to_rows
    >>> visit = {"id": "V1", "at": "2026-03-02", "wounds": [{"wound": "W1", "assessment": {"length": "41.0 mm"}}]}
    >>> history = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]})
    >>> for row in to_rows(history):
    ...     print(row["visit_id"], row["concept"], row["value"], row["unit"], row["written"])
    V1 assessment.length 4.10 cm 41.0 mm
    """
    chosen = table_of(table, "to_rows, table")
    return _rows(histories, chosen)


def _rows(histories: History | Iterable[History], table: Table) -> Iterator[Row]:
    for opened in Clients().of(histories):
        yield from rows_of(opened, [table])[table.name]


class Clients:
    """The clients that have come, so that none comes twice."""

    def __init__(self) -> None:
        self._seen: set[bytes] = set()

    @property
    def count(self) -> int:
        """How many have come."""
        return len(self._seen)

    def of(self, histories: History | Iterable[History]) -> Iterator[Opened]:
        """Yield one history, or each of many, opened."""
        if isinstance(histories, History):
            yield self.open(histories)
        elif hasattr(histories, "read"):
            raise _not_histories("it is a file")
        else:
            yield from map(self.open, histories)

    def open(self, history: History) -> Opened:
        """Open a history.

        Raises
        ------
        InputError
            Where there was one of the same client.
        """
        if not isinstance(history, History):
            raise _not_histories(f"one of them is of type {type(history).__name__}")
        opened = Opened(history)
        client = UUID(opened.client).bytes  # of a million clients the smallest that tells them apart
        if client in self._seen:
            fix = "Join the two first: woundfhir receive, or woundfhir.merge"
            wrong = "there was a record of the same client already, and its visits would count twice"
            raise InputError(history.source, "each client once", fix, found=wrong)
        self._seen.add(client)
        return opened


def _not_histories(wrong: str) -> InputError:
    fix = "Read them with woundfhir.read or read_many, and take .history of each"
    return InputError("histories", "histories (woundfhir.History)", fix, found=wrong)


def rows_of(opened: Opened, tables: Sequence[Table]) -> dict[Name, list[Row]]:
    """Return the rows of several tables of one client, each with all of its columns; the checklist judges once."""
    judged = verdict(opened) if any(table.name in _JUDGED for table in tables) else None
    out: dict[Name, list[Row]] = {}
    for table in tables:
        blank = dict.fromkeys(table.names)
        if table.name in _PLAIN:
            made = _PLAIN[table.name](opened)
        else:
            assert judged is not None
            made = _JUDGED[table.name](opened, judged)
        out[table.name] = [{**blank, **row} for row in made]
    opened.record.release()
    return out
