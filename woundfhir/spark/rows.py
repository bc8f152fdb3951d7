"""Rows of a DataFrame as clients: ``woundfhir.tables`` on the rows of each, wherever Spark has put them."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import accumulate, groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from woundfhir.bulk.work import who
from woundfhir.errors import InputError
from woundfhir.extras import need
from woundfhir.intake import formats
from woundfhir.intake.inputs import Input
from woundfhir.spark.lines import Lines
from woundfhir.spark.setting import NOTHING, Setting
from woundfhir.spark.whose import arrow_schema
from woundfhir.spark.work import DONE, Client, Clients, Read, Row, mapped, nothing
from woundfhir.tables.frames import line_of
from woundfhir.tables.layout import lay_out
from woundfhir.tables.mapping import TableMap, as_map
from woundfhir.tables.owners import NOBODY, Waiting, number_of, put_away, sort_out, taken_out
from woundfhir.tables.plan import Plan, plan
from woundfhir.tables.reading import OfClient, kept_as, of_rows
from woundfhir.tables.sheet import Line, Sheet

if TYPE_CHECKING:
    import pyarrow
    from pyspark.sql import Column, DataFrame

#: Rows of a table with the number of their client, as bytes.
_KEYED = "whose string, row bigint, cells binary"
#: What was made of a client; of a row that is nobody's, the row itself.
_READ = DONE + ", nobody binary"
#: The record of rows that are nobody's comes last.
_LAST = (1 << 40) - 1
_ROW = "__woundfhir_row"
_encode, _decode = msgspec.msgpack.encode, msgspec.msgpack.Decoder(list[bytes]).decode


def read_rows(
    frame: DataFrame,
    mapping: TableMap | Mapping[str, Any] | str | os.PathLike[str],
    *,
    name: str = "rows",
    tell: Callable[[Input], list[str]] | None = None,
    setting: Setting = NOTHING,
) -> Read:
    """Read the clients in the rows of a DataFrame by a mapping, as ``woundfhir.from_rows`` reads those of one machine.

    Rows of a client may stand anywhere. They are numbered as Spark gives them: the same rows in the same partitions
    are the same bytes.

    Parameters
    ----------
    frame
        The rows: what ``spark.read.parquet``, ``.csv``, ``.jdbc`` or a query gives.
    mapping
        What the columns mean: the path of a TOML file as ``woundfhir map table`` writes it, or the same as a dict. One
        column, or the columns named under ``client``, must tell the clients apart.
    name
        What the rows are called in messages and in the report.
    tell
        Says what of an input was not understood, in lines (``notices`` of ``Read.first``).
    setting
        Site, maps and language.

    Raises
    ------
    InputError
        When the mapping does not fit the columns, or needs rows to stand in order or several numbers of a client: such
        a table has to be seen as a whole, by ``woundfhir convert``.

    Examples
    --------
    >>> with read_rows(spark.read.parquet("visits.parquet"), "wounds.toml") as found:  # doctest: +SKIP
    ...     found.clients.convert("ndjson").select("number", "visits").show()
    """
    from pyspark.sql import functions as F

    need("spark", "woundfhir.spark")
    held = frame.withColumn(_ROW, F.monotonically_increasing_id()).persist()
    numbered = _numbered(held, F.shiftright(_ROW, 33), F.col(_ROW).bitwiseAND((1 << 33) - 1))
    made = read_numbered(numbered, as_mapping(mapping), name, tell, setting)
    made.kept.append(held)
    return made


def as_mapping(given: TableMap | Mapping[str, Any] | str | os.PathLike[str]) -> TableMap:
    """Return a mapping, however a program gives it."""
    return as_map(Path(given) if isinstance(given, os.PathLike) else given)


def read_parquet(
    frame: DataFrame, mapping: TableMap, name: str, tell: Callable[[Input], list[str]] | None, setting: Setting
) -> Read:
    """Read the rows of Parquet files, numbered in the order of the files' names."""
    from pyspark.sql import functions as F

    numbered = _numbered(frame, F.col("_metadata.file_path"), F.col("_metadata.row_index"))
    return read_numbered(numbered, mapping, name, tell, setting)


def _numbered(frame: DataFrame, part: Column, index: Column) -> DataFrame:
    """Return rows with their number in the last column, counted from 1 through the parts in their order."""
    from pyspark.sql import functions as F

    placed = frame.select("*", part.alias("__part"), index.alias("__index"))
    found = placed.groupBy("__part").agg(F.count("*").alias("rows")).orderBy("__part").collect()
    before = accumulate((one.rows for one in found), initial=1)
    starts = [(one["__part"], start) for one, start in zip(found, before, strict=False)]
    kind = placed.schema["__part"].dataType.simpleString()
    table = frame.sparkSession.createDataFrame(starts, f"__part {kind}, __start bigint")
    numbered = placed.join(F.broadcast(table), "__part").withColumn(_ROW, F.col("__start") + F.col("__index"))
    return numbered.drop("__part", "__index", "__start")


def read_numbered(
    frame: DataFrame, mapping: TableMap, name: str, tell: Callable[[Input], list[str]] | None, setting: Setting
) -> Read:
    """Read rows whose last column is their number."""
    from pyspark.sql import functions as F

    setting.hold()
    reading = _Reading(tuple(frame.columns[:-1]), mapping, name, tell or nothing)
    reading.refuse_what_needs_the_whole()
    keyed = frame.mapInArrow(partial(_keyed, reading=reading, setting=setting), _KEYED)
    ready = keyed.repartition("whose").sortWithinPartitions("whose", "row")
    done = mapped(ready, partial(_of_one, name=name), reading.read, _READ, setting).persist()
    nobody = done.where("nobody is not null").orderBy("number").select("nobody").collect()
    first = done.where("nobody is null").drop("nobody")
    if nobody:
        last = reading.nobodys([taken_out(bytes(row.nobody)) for row in nobody])
        first = first.union(frame.sparkSession.createDataFrame([tuple(last.get(one) for one in first.columns)], DONE))
    line = F.rtrim(F.col("content").cast("string"), F.lit("\n")).cast("binary")
    records = first.where("content is not null").select(F.col("number").alias("place"), line.alias("text"))
    lines = Lines(records, [name], "record-ndjson", "row")
    return Read(Clients(records, lines.form, lines, setting), None, [done], first)


@dataclass
class _Reading:
    """How the rows of one table are read; each process plans it once."""

    columns: tuple[str, ...]
    mapping: TableMap
    name: str
    tell: Callable[[Input], list[str]]

    @cached_property
    def plan(self) -> Plan:
        header = Line(0, list(self.columns))
        return plan(self.mapping, lay_out(Sheet(self.name, "rows", iter([header]))))

    @property
    def _table(self) -> str:
        return kept_as(self.name)

    def __getstate__(self) -> dict[str, Any]:
        return {key: value for key, value in self.__dict__.items() if key != "plan"}

    def refuse_what_needs_the_whole(self) -> None:
        """Refuse what only the whole table can answer: whose is a row that one of several numbers names?"""
        fix = "Convert it on one machine: woundfhir convert, or woundfhir.from_rows"
        if self.plan.fill_down:
            raise InputError("mapping", "no fill_down: rows of a DataFrame have no order", fix)
        targets = [one.column for _, reader in self.plan.about("patient") for one in reader.targets]
        numbers = [column for column in targets if column[1] == "identifiers"]
        if len(numbers) + bool(self.plan.client) != 1 or self.mapping.one_client:
            raise InputError("mapping", "one column (or 'client') that tells the clients apart", fix)

    def read(self, client: Client) -> Iterator[Row]:
        """Yield what is made of the rows that bear one number."""
        waiting = Waiting()
        try:
            self.plan.laid.lines = (taken_out(raw)[0] for raw in _decode(client.content))
            sort_out(self.plan, waiting)
            for owner, rows in waiting.clients():
                some = list(rows)
                if owner == NOBODY:
                    for line, kind, place in some:
                        yield {"number": line.number, "nobody": put_away(line, kind, place)}
                    continue
                first = some[0][0].number
                yield self._done(of_rows(self.plan, some, f"{self.name}, row {first}", self._table, True), first)
        finally:
            waiting.close()

    def nobodys(self, rows: list[tuple[Line, str, str]]) -> Row:
        """Return the record of the rows that are nobody's."""
        title = f"{self.name}, what names no client"
        return self._done(of_rows(self.plan, rows, title, self._table, False), _LAST)

    def _done(self, found: OfClient, number: int) -> Row:
        one = Input(found.title, found.history, "rows", report=found.report, of_client=found.named)
        return {
            "number": number,
            "content": formats.named("record-ndjson").write(found.history),
            "notices": self.tell(one),
            "asks": one.asks,
            "left_aside": one.left_aside,
            "visits": len(found.history.visits),
            "clients": [who(one)],
        }


def _keyed(
    batches: Iterator[pyarrow.RecordBatch], reading: _Reading, setting: Setting
) -> Iterator[pyarrow.RecordBatch]:
    import pyarrow

    setting.hold()
    for batch in batches:
        *columns, numbers = (column.to_pylist() for column in batch.columns)
        rows = []
        for number, *values in zip(numbers, *columns, strict=True):
            line = line_of(number, values)
            if line.fault or not line.blank:
                rows.append({"whose": number_of(reading.plan, line), "row": number, "cells": put_away(line)})
        yield pyarrow.RecordBatch.from_pylist(rows, arrow_schema(_KEYED))


def _of_one(batches: Iterator[pyarrow.RecordBatch], name: str) -> Iterator[Client]:
    """Yield the rows of each number, which stand together."""
    for _, rows in groupby(_rows(batches), key=lambda row: row[0]):
        some = list(rows)
        yield Client(f"{name}, row {some[0][1]}", some[0][1], _encode([cells for _, _, cells in some]), [some[0][1]])


def _rows(batches: Iterable[pyarrow.RecordBatch]) -> Iterator[tuple[str, int, bytes]]:
    for batch in batches:
        yield from zip(*(column.to_pylist() for column in batch.columns), strict=True)
