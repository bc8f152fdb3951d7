"""Tables for analysis (``woundfhir.to_rows``) of many clients, as DataFrames with the same fixed schema."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING

from woundfhir.flat.arrow import schema_of
from woundfhir.flat.opened import Opened
from woundfhir.flat.rows import rows_of
from woundfhir.flat.schema import Name, table_of
from woundfhir.intake import formats
from woundfhir.spark.setting import NOTHING, Setting
from woundfhir.spark.work import Client, Row, mapped

if TYPE_CHECKING:
    import pyarrow
    from pyspark.sql import DataFrame

#: What a row is sorted by: no column of a table.
ORDER = ("_client", "_row")


def tabled(records: DataFrame, table: Name, setting: Setting = NOTHING) -> DataFrame:
    """Return one table of many clients.

    Parameters
    ----------
    records
        What ``Clients.convert("record-ndjson")`` returns.
    table
        Its name: see ``woundfhir.to_rows``.
    setting
        Site, maps and language.

    Returns
    -------
    DataFrame
        Its columns, and before them ``_client`` and ``_row``, by which the rows have the order of one machine.
    """
    import pyarrow

    chosen = schema_of(table_of(table))
    order = [pyarrow.field(name, pyarrow.int64()) for name in ORDER]
    good = records.where("content is not null").select("number", "content")
    return mapped(good, _records, partial(_rows, table=table), pyarrow.schema([*order, *chosen]), setting)


def _records(batches: Iterator[pyarrow.RecordBatch]) -> Iterator[Client]:
    for batch in batches:
        for number, content in zip(*(one.to_pylist() for one in batch.columns), strict=True):
            yield Client(f"client {number}", number, content, [])


def _rows(client: Client, table: Name) -> Iterator[Row]:
    line = 0
    for one in formats.named("record-ndjson", "read").read_many(client.content, client.name):
        for row in rows_of(Opened(one.history), [table_of(table)])[table]:
            line += 1
            yield {ORDER[0]: client.number, ORDER[1]: line, **row}
