"""Tables in Arrow's form, and Parquet and CSV files that grow as clients come."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Protocol

from woundfhir.extras import missing
from woundfhir.flat.opened import Row
from woundfhir.flat.rows import Clients, rows_of
from woundfhir.flat.schema import DIGITS, PLACES, Table, table_of, version
from woundfhir.record import History
from woundfhir.record.guarded import cells
from woundfhir.storage.outputs import Sink

if TYPE_CHECKING:
    import pyarrow as pa

#: Rows of one row group: what a file holds back in memory.
GROUP = 8_192


def _arrow() -> Any:
    try:
        import pyarrow
        import pyarrow.parquet
    except ModuleNotFoundError:
        raise missing("tables", "parquet") from None
    return pyarrow


def schema_of(table: Table) -> pa.Schema:
    """Return the Arrow schema of a table; each field says its meaning, unit and source."""
    pa = _arrow()
    types = {
        "string": pa.string(),
        "decimal": pa.decimal128(DIGITS, PLACES),
        "integer": pa.int32(),
        "boolean": pa.bool_(),
        "date": pa.date32(),
        "timestamp": pa.timestamp("us", tz="UTC"),
    }
    fields = []
    for column in table.columns:
        notes = {"says": column.says, "source": column.source, **({"unit": column.unit} if column.unit else {})}
        fields.append(pa.field(column.name, types[column.type], metadata=notes))
    notes = {"woundfhir.table": table.name, "woundfhir.schema": version(), "woundfhir.row": table.row}
    return pa.schema(fields, metadata=notes)


def to_arrow(histories: History | Iterable[History], table: str = "facts") -> pa.Table:
    """Return a table with a fixed schema as an Arrow table; pandas, polars and DuckDB take it as it is.

    Parameters
    ----------
    histories, table
        As for ``to_rows``.

    Returns
    -------
    pyarrow.Table
        ``.to_pandas()`` gives a data frame of pandas, ``polars.from_arrow(...)`` one of polars, and DuckDB queries the
        variable by its name. Decimals are exact, with 18 places; each field's ``metadata`` says meaning, unit, source.

    Raises
    ------
    InputError
        As for ``to_rows``; and where pyarrow (the extra ``tables``) is not installed.

    Examples
    --------
    >>> from woundfhir import History, to_arrow
    >>> visit = {"id": "V1", "at": "2026-03-02", "wounds": [{"wound": "W1", "assessment": {"length": "41.0 mm"}}]}
    >>> history = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]})
    >>> found = to_arrow(history, "sizes")
    >>> found.num_rows, found.column("length").type, float(found.column("length")[0].as_py())
    (1, Decimal128Type(decimal128(38, 18)), 4.1)
    """
    chosen = table_of(table, "to_arrow, table")
    pa, schema, seen = _arrow(), schema_of(chosen), Clients()
    batches, rows = [], list[Row]()
    for opened in seen.of(histories):
        rows += rows_of(opened, [chosen])[chosen.name]
        if len(rows) >= GROUP:
            batches.append(_batch(pa, rows, schema))
            rows = []
    return pa.Table.from_batches([*batches, _batch(pa, rows, schema)], schema)


def _batch(pa: Any, rows: list[Row], schema: Any) -> Any:
    return pa.RecordBatch.from_pylist(rows, schema=schema)


# -- files -----------------------------------------------------------------------------------------


class Writer(Protocol):
    """One table on its way to a file."""

    def add(self, rows: list[Row]) -> None:
        """Take rows."""

    def end(self) -> None:
        """Write what is left."""

    def abandon(self) -> None:
        """Write nothing more: the run has failed."""


class ParquetWriter:
    """A Parquet file (Zstandard) in row groups of one size, so that the same rows make the same bytes."""

    def __init__(self, sink: Sink, table: Table) -> None:
        self._arrow = _arrow()
        self._schema = schema_of(table)
        self._rows: list[Row] = []
        self._handle = _Handle(sink)
        self._file = self._arrow.parquet.ParquetWriter(self._handle, self._schema, compression="zstd")

    def add(self, rows: list[Row]) -> None:
        """Take rows; each full group is written."""
        self._rows += rows
        while len(self._rows) >= GROUP:
            self._write(self._rows[:GROUP])
            del self._rows[:GROUP]

    def end(self) -> None:
        """Write the last group and the end of the file."""
        if self._rows:
            self._write(self._rows)
        self._file.close()

    def abandon(self) -> None:
        """Write nothing more: Arrow wants to write the end of a file even then."""
        self._handle.sink = None
        self._file.close()

    def _write(self, rows: list[Row]) -> None:
        self._file.write_batch(_batch(self._arrow, rows, self._schema), row_group_size=GROUP)


class _Handle(io.RawIOBase):
    """A sink as Arrow wants a file: it can be written to and says how far it is."""

    def __init__(self, sink: Sink) -> None:
        self.sink: Sink | None = sink
        self._at = 0

    def writable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._at

    def write(self, content: Any) -> int:
        data = bytes(content)
        if self.sink is not None:
            self.sink.write(data)
        self._at += len(data)
        return len(data)


class CsvWriter:
    """A CSV file (RFC 4180, UTF-8): numbers with the digits that they have, nothing for null."""

    def __init__(self, sink: Sink, table: Table) -> None:
        self._sink, self._names = sink, table.names
        self._put([self._names])

    def add(self, rows: list[Row]) -> None:
        """Take rows and write them."""
        self._put([[_cell(row[name]) for name in self._names] for row in rows])

    def end(self) -> None:
        """There is nothing left to write."""

    def abandon(self) -> None:
        """There is nothing to give up."""

    def _put(self, lines: Iterable[Iterable[str]]) -> None:
        out = io.StringIO(newline="")
        csv.writer(out, lineterminator="\r\n").writerows(map(cells, lines))
        self._sink.write(out.getvalue().encode())


def _cell(value: Any) -> str:
    """Return a cell of CSV.

    Examples
    --------
    >>> from datetime import UTC, date
    >>> [_cell(one) for one in (None, Decimal("4.10"), True, date(2026, 3, 2), datetime(2026, 3, 2, 15, tzinfo=UTC))]
    ['', '4.10', 'true', '2026-03-02', '2026-03-02T15:00:00Z']
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    return str(value)


#: The forms of a table's file, by the name of the format.
WRITERS: dict[str, type[ParquetWriter] | type[CsvWriter]] = {"parquet": ParquetWriter, "csv": CsvWriter}
