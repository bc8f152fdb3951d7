"""A table read by its mapping: a history and a report for each client in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from io import BytesIO
from pathlib import Path, PurePath
from typing import NamedTuple

from woundfhir.errors import InputError
from woundfhir.fhir.losses import Losses
from woundfhir.record import History
from woundfhir.tables.client import TableClient
from woundfhir.tables.layout import Laid, lay_out
from woundfhir.tables.mapping import TableMap
from woundfhir.tables.owners import NOBODY, Waiting, sort_out
from woundfhir.tables.plan import Plan, names, plan
from woundfhir.tables.sheet import Line, Sheet
from woundfhir.tables.text import open_text
from woundfhir.tables.workbook import ZIP, is_workbook, open_workbook


class OfClient(NamedTuple):
    """One client of a table.

    Attributes
    ----------
    title
        The table, and the number of the client where there are several.
    history
        The record.
    report
        What became of each cell.
    named
        False for rows that are nobody's: they are kept under ``extra`` of a record of their own.
    """

    title: str
    history: History
    report: Losses
    named: bool = True


def open_table(content: bytes | Path, where: str, mapping: TableMap | None = None) -> Sheet:
    """Return the table in a file: a workbook by its content, anything else as text.

    Raises
    ------
    InputError
        For what is neither; see ``open_text`` and ``open_workbook``.
    """
    if isinstance(content, Path):
        try:
            with content.open("rb") as file:
                start = file.read(len(ZIP))
        except OSError as error:
            wrong = f"it cannot be read ({error.strerror})"
            raise InputError(where, "a file that this user may read", "Check the name", found=wrong) from None
        return open_workbook(content, where, mapping) if start == ZIP else open_text(content.open("rb"), where, mapping)
    if content.startswith(ZIP):
        if not is_workbook(content):
            raise InputError(where, "a workbook (XLSX) or a table as text", "Unpack it, or save the table as CSV")
        return open_workbook(content, where, mapping)
    return open_text(BytesIO(content), where, mapping)


def read_table(content: bytes | Path, where: str, mapping: TableMap) -> Iterator[OfClient]:
    """Yield the history of each client in a table, and last what is nobody's.

    Parameters
    ----------
    content
        The table, or its path: that is read as a stream, and needs no more memory than its clients.
    where
        Its name, for messages.
    mapping
        What its columns mean.

    Raises
    ------
    InputError
        When the table cannot be opened, has no header, or the mapping does not fit it. A cell or a row that cannot be
        read is no error: it stands in the report, with row and column.

    Examples
    --------
    >>> from woundfhir.tables.mapping import read_map
    >>> written = "Dossier;Date;Plaie;Lg (cm)\\n17;02/03/2026;talon;4,2\\n17;09/03/2026;talon;trop\\n"
    >>> lines = ['table = 1', 'dates = "day first"']
    >>> for name, to in (("Dossier", "patient.identifiers"), ("Date", "visit.at"), ("Plaie", "wound.id"),
    ...                  ("Lg (cm)", "assessment.length")):
    ...     lines += ["[[column]]", f'name = "{name}"', f'to = "{to}"']
    >>> (found,) = read_table(written.encode(), "a.csv", read_map("\\n".join(lines), "map.toml"))
    >>> found.history.visits[0]["wounds"][0]["assessment"]
    {'length': '4.2 cm'}
    >>> found.report.summary
    '7 of 8 values understood (5 of them reworded); 1 not understood'
    """
    yield from read_sheet(open_table(content, where, mapping), where, mapping)


def kept_as(where: str) -> str:
    """Return what a table is called under ``extra``."""
    return f"table {PurePath(where).name}"


def read_sheet(sheet: Sheet, where: str, mapping: TableMap) -> Iterator[OfClient]:
    """Yield what ``read_table`` does, for a table that is open."""
    laid = lay_out(sheet, mapping, names(mapping))
    ready = plan(mapping, laid)
    name = kept_as(where)
    waiting = Waiting()
    try:
        sort_out(ready, waiting)
        clients = list(waiting.clients())
        several = sum(number != NOBODY for number, _ in clients) > 1
        for number, rows in clients:
            title = f"{where}, client {number + 1}" if several else where
            title = f"{where}, what names no client" if number == NOBODY else title
            yield of_rows(ready, rows, title, name, number != NOBODY)
        if not clients:
            raise InputError(sheet.where, "rows below the header", "Look whether it is the right file")
    finally:
        waiting.close()


def of_rows(ready: Plan, rows: Iterable[tuple[Line, str, str]], title: str, name: str, named: bool) -> OfClient:
    """Return the record of one client's rows; with each of them ``kind`` and ``place``, where it is set aside."""
    one = TableClient(ready, name)
    for line, kind, place in rows:
        if kind:
            one.set_aside(line, kind, line.fault, place)
        else:
            one.take(line)
    return OfClient(title, *one.result(title, ready.laid.described(), _notices(ready)), named)


def _notices(ready: Plan) -> list[str]:
    notes = ready.laid.sheet.notices
    guesses = ready.mapping.guesses()
    if not guesses:
        return notes
    listed = ", ".join(guesses[:5]) + (" ..." if len(guesses) > 5 else "")
    return [f"guesses of the mapping that nobody has confirmed ({len(guesses)}): {listed}", *notes]


__all__ = ["Laid", "OfClient", "open_table", "read_sheet", "read_table"]
