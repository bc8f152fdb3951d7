"""Rows that a program holds (a cursor, dicts, a data frame) as a table. No library is imported: each is known by what
it can do."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from itertools import chain, islice
from typing import Any

from woundfhir.errors import InputError
from woundfhir.record import quantity
from woundfhir.record.values import plain
from woundfhir.tables.sheet import Line, Number, Odd, Sheet, Stamp

Json = Any
#: Of rows that are dicts, so many are looked at for the names of the columns.
_FIRST = 1_000
_FORMS = "a DB-API cursor after its query, dicts, a data frame of pandas or polars, or an Arrow table"


def open_rows(rows: Any, where: str) -> Sheet:
    """Return rows as a table; its first line holds the names of the columns, in row 0.

    Parameters
    ----------
    rows
        A DB-API 2.0 cursor after its query (PEP 249), an iterable of mappings or of named tuples, a data frame of
        pandas or polars, an Arrow table or batch. It is read once, row by row.
    where
        What it is called in messages.

    Raises
    ------
    InputError
        For anything else, and for rows without names of columns.

    Examples
    --------
    >>> [line.cells for line in open_rows([{"id": 7, "at": date(2026, 3, 2)}], "rows").lines]
    [['id', 'at'], ['7', '2026-03-02']]
    """
    names, some = _opened(rows, where)
    return Sheet(where, "rows", chain([Line(0, names)], _lines(len(names), some, where)))


def _opened(rows: Any, where: str) -> tuple[list[str], Iterable[Any]]:
    if hasattr(rows, "to_batches") and hasattr(rows, "column_names"):  # Arrow
        batches = rows.to_batches()
        return _names(rows.column_names, where), chain.from_iterable(_of_arrow(batch) for batch in batches)
    if hasattr(rows, "columns") and callable(found := getattr(rows, "itertuples", None)):  # pandas
        return _names(rows.columns, where), found(index=False, name=None)
    if hasattr(rows, "columns") and callable(found := getattr(rows, "iter_rows", None)):  # polars
        return _names(rows.columns, where), found()
    if hasattr(rows, "description") and callable(getattr(rows, "fetchmany", None)):  # PEP 249
        if rows.description is None:
            raise InputError(where, _FORMS, "Run the query first", found="the cursor has no result")
        return _names([one[0] for one in rows.description], where), _of_cursor(rows.fetchmany)
    text = isinstance(rows, (str, bytes, bytearray, memoryview, Mapping)) or callable(getattr(rows, "read", None))
    if text or not isinstance(rows, Iterable):
        raise InputError(where, _FORMS, "Give the rows themselves", found=f"it is of type {type(rows).__name__}")
    return _of_mappings(iter(rows), where)


def _names(found: Iterable[Any], where: str) -> list[str]:
    names = [str(one) if isinstance(one, (str, int)) else " / ".join(map(str, one)) for one in found]
    if not names:
        raise InputError(where, "rows with named columns", "Look whether it is the right query")
    return names


def _of_arrow(batch: Any) -> Iterator[tuple[Any, ...]]:
    return zip(*(column.to_pylist() for column in batch.columns), strict=True)


def _of_cursor(fetch: Callable[[int], Sequence[Any]]) -> Iterator[Any]:
    while some := fetch(_FIRST):
        yield from some


def _of_mappings(rows: Iterator[Any], where: str) -> tuple[list[str], Iterable[Any]]:
    """Find the names of dicts, of rows that have keys (as those of sqlite3), or of named tuples."""
    first = list(islice(rows, _FIRST))
    names: dict[str, None] = {}
    for row in first:
        keys = _keys(row)
        if keys is None:
            wrong = f"a row is of type {type(row).__name__}, without names"
            raise InputError(where, _FORMS, "Give each row as a dict", found=wrong)
        names.update(dict.fromkeys(keys))
    if not names:
        raise InputError(where, "at least one row with named columns", "Look whether it is the right query")
    listed = list(names)
    return listed, (_in_order(row, listed) for row in chain(first, rows))


def _keys(row: Any) -> list[str] | None:
    if isinstance(row, Mapping) or callable(getattr(row, "keys", None)):
        return [str(key) for key in row.keys()]  # noqa: SIM118  a row of sqlite3 iterates over its values
    fields = getattr(row, "_fields", None)
    return [str(one) for one in fields] if isinstance(fields, tuple) else None


def _in_order(row: Any, names: Sequence[str]) -> list[Any] | None:
    """Return the values of a row under the names known; None for one that has other names."""
    keys = _keys(row)
    if keys is None or not set(keys) <= set(names):
        return None
    values = row._asdict() if hasattr(row, "_asdict") else row
    known = {str(key): values[key] for key in (values.keys() if not isinstance(values, Mapping) else values)}
    return [known.get(name) for name in names]


def _lines(width: int, rows: Iterable[Any], where: str) -> Iterator[Line]:
    for number, row in enumerate(rows, 1):
        if row is None:
            yield Line(number, [], f"it has names that none of the first {_FIRST:,} rows has")
            continue
        line = line_of(number, row)
        yield line if len(line.cells) == width else line._replace(fault="it has another number of values")


def line_of(number: int, values: Iterable[Any]) -> Line:
    """Return the values of a row as texts that remember what they are."""
    return Line(number, [_cell(value) for value in values])


def _cell(value: Json) -> str:
    try:
        text = typed(value)
        text.encode()
        return text
    except UnicodeEncodeError:
        return Odd("a value holds half a character")
    except InputError as error:
        return Odd(error.found or "a value has too many digits")


def typed(value: Json) -> str:
    """Return a value as text that remembers what it is; nothing for None, NaN, NaT and NA.

    Raises
    ------
    InputError
        For what has no form in a record: bytes, objects, infinity.

    Examples
    --------
    >>> from decimal import Decimal
    >>> typed(Decimal("4.10")), typed(float("nan")), typed(datetime(2026, 3, 2, 10, 5)), typed(True), typed(4.2)
    ('4.10', '', '2026-03-02T10:05:00', 'yes', '4.2')
    """
    if value is None or isinstance(value, str):
        return "" if value is None else value.strip()
    written = plain(value, "a value")
    if written is None:
        return ""
    if isinstance(written, bool):
        return "yes" if written else "no"
    if isinstance(written, str):
        stamp = isinstance(value, (date, datetime, time)) or getattr(getattr(value, "dtype", None), "kind", "") == "M"
        return Stamp(written) if stamp else written.strip()
    if isinstance(written, (list, dict)):
        raise InputError("a value", "one value in a cell", "Spread it over columns", found="a value holds several")
    return Number(quantity.plain(written))
