"""Whole jobs, from files to files: what ``python -m woundfhir.spark`` runs.

A task may run twice (a machine was lost, or was slow and another began the same work): what is written comes from
Spark's own committer, which takes the output of one of them, and what is counted is counted in what was kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from woundfhir.bulk.converting import ERRORS, NOT_READ, Outcome, error_line, not_apart
from woundfhir.errors import InputError
from woundfhir.spark.lines import Lines, parted
from woundfhir.spark.reading import Read, read
from woundfhir.spark.setting import NOTHING, Setting

if TYPE_CHECKING:
    import pyarrow
    from pyspark.sql import DataFrame, SparkSession

    from woundfhir.intake.inputs import Input


@dataclass(frozen=True)
class Output:
    """Where a job writes.

    Parameters
    ----------
    folder
        A folder, or the address of one, that Spark makes.
    errors
        Another, for a list of what cannot be read; without it that ends the run.
    force
        Write over what is there.
    pack
        ``gz`` or ``zst``.
    by_type
        A folder for each type of resource.
    """

    folder: str
    errors: str | None = None
    force: bool = False
    pack: str | None = None
    by_type: bool = False

    def refuse_taken(self, spark: SparkSession) -> None:
        """Refuse folders that are there already."""
        for one in [self.folder, *([self.errors] if self.errors else [])]:
            if not self.force and _exists(spark, one):
                wrong = "a file or folder of this name is there already"
                raise InputError(one, "a new folder", "Choose another name, or write over it with --force", found=wrong)


def _exists(spark: SparkSession, name: str) -> bool:
    from pyspark.errors import PySparkException

    if "://" not in name:
        return Path(name).exists()
    try:
        spark.read.format("binaryFile").load(name)
    except PySparkException:
        return False
    return True


def convert(
    spark: SparkSession,
    inputs: Iterable[str | Path],
    to: str,
    output: Output,
    *,
    setting: Setting = NOTHING,
    tell: Callable[[Input], list[str]] | None = None,
    say: Callable[[str], object] = lambda line: None,
) -> Outcome:
    """Convert many clients: the parts of the output, in their order, are the bytes that one machine writes.

    Parameters
    ----------
    spark
        The session.
    inputs
        As for ``read``.
    to
        ``ndjson`` or ``record-ndjson``.
    output
        Where to.
    setting
        Site, maps and language.
    tell, say
        Says what of an input was not understood, in lines; takes each of these.

    Raises
    ------
    InputError
        For what cannot be read or written; then nothing is written.
    """
    if output.by_type and to != "ndjson":
        raise InputError("--by-type", "--to ndjson", "Choose it, or leave --by-type out")
    output.refuse_taken(spark)
    with read(spark, inputs, skip_unreadable=output.errors is not None, setting=setting) as found:
        done = found.clients.convert(to, tell).persist()
        found.kept.append(done)
        outcome = _outcome(done)
        _refuse(done, found, output)
        _keep_apart(done, to, outcome)
        good = done.where("content is not null")
        _save(_types(good) if output.by_type else good.select("number", _text("content")), output)
        if output.errors is not None:
            outcome.refused += _save_errors(found, done, output)
        if tell is not None:
            told = done.where("size(told) > 0").orderBy("number").select("told")
            for line in chain.from_iterable(row.told for row in told.toLocalIterator()):
                say(line)
    return outcome


def _outcome(done: DataFrame) -> Outcome:
    from pyspark.sql import functions as F

    row = done.agg(
        F.coalesce(F.bool_or("asks"), F.lit(False)).alias("asks"),
        F.coalesce(F.bool_or("left_aside"), F.lit(False)).alias("left_aside"),
        F.coalesce(F.sum(F.size("clients")), F.lit(0)).alias("clients"),
        F.coalesce(F.sum("visits"), F.lit(0)).alias("visits"),
    ).collect()[0]
    return Outcome(row.asks, row.left_aside, row.clients, row.visits)


def _refuse(done: DataFrame, found: Read, output: Output) -> None:
    """Raise the error of the first client who cannot be read, where no list takes it."""
    from pyspark.sql import functions as F

    wrong = F.col("expected").isNotNull() if output.errors is None else F.col("ends")
    for row in done.where(wrong).orderBy("number").limit(1).collect():
        lines = found.clients.lines
        where = lines.names[parted(row.place)[0]] if row.ends and lines.form == "ndjson" else lines.where(row.place)
        raise InputError(where, row.expected, row.fix, found=row.found)


def _keep_apart(done: DataFrame, to: str, outcome: Outcome) -> None:
    """Refuse to write resources of which a reader could not say whose they are."""
    from pyspark.sql import functions as F

    if to != "ndjson":
        return
    each = done.select(F.explode("clients").alias("client"))
    one = each.agg(
        F.count("*").alias("all"), F.count("client").alias("named"), F.count_distinct("client").alias("apart")
    )
    row = one.collect()[0]
    if row.apart < row.named or (row.named < row["all"] and outcome.clients > 1):
        raise not_apart()


def _text(column: str) -> Any:
    """Return lines as the text of one row: Spark ends a row by itself."""
    from pyspark.sql import functions as F

    return F.rtrim(F.col(column).cast("string"), F.lit("\n")).alias("text")


_TYPES = "number bigint, line bigint, resourceType string, text string"


def _types(done: DataFrame) -> DataFrame:
    return done.select("number", "content").mapInArrow(_by_type, _TYPES)


class _Type(msgspec.Struct):
    resourceType: str


def _by_type(batches: Iterator[pyarrow.RecordBatch]) -> Iterator[pyarrow.RecordBatch]:
    import pyarrow

    from woundfhir.spark.whose import arrow_schema

    kind = msgspec.json.Decoder(_Type).decode
    for batch in batches:
        rows = [
            {"number": number, "line": line, "resourceType": kind(text).resourceType, "text": text.decode()}
            for number, content in zip(*(one.to_pylist() for one in batch.columns), strict=True)
            for line, text in enumerate(content.splitlines())
        ]
        yield pyarrow.RecordBatch.from_pylist(rows, arrow_schema(_TYPES))


_PACKS = {None: "none", "gz": "gzip", "zst": "zstd"}


def _save(frame: DataFrame, output: Output, folder: str | None = None) -> None:
    """Write lines in order; of each type of resource in a folder of its own, where there are types."""
    from pyspark.errors import PySparkException

    order = [one for one in frame.columns if one in ("number", "line")]
    ordered = frame.orderBy(*order)
    kinds = [one for one in frame.columns if one == "resourceType"]
    if kinds:
        ordered = ordered.sortWithinPartitions(*kinds, *order)
    writer = ordered.drop(*order).write.mode("overwrite" if output.force else "errorifexists")
    try:
        writer.partitionBy(*kinds).text(folder or output.folder, compression=_PACKS[output.pack], lineSep="\n")
    except PySparkException as error:
        wrong = f"it cannot be written ({error.getCondition() or type(error).__name__})"
        raise InputError(
            folder or output.folder, "a folder to write to", "Look at its permissions", found=wrong
        ) from None


def _save_errors(found: Read, done: DataFrame, output: Output) -> int:
    """List what cannot be read: lines first, then clients, as one machine does."""
    assert output.errors is not None
    lines = found.clients.lines
    rows = [] if found.refused is None else found.refused.orderBy("place").collect()
    listed = [_error(lines, row.place, row.reason) for row in rows]
    failed = done.where("expected is not null").orderBy("number").select("place", "expected").collect()
    listed += [_error(lines, row.place, NOT_READ.format(row.expected)) for row in failed]
    numbered = list(enumerate([ERRORS, *listed]))
    frame = done.sparkSession.createDataFrame(numbered, "number bigint, text string").coalesce(1)
    _save(frame, Output(output.errors, force=output.force), output.errors)
    return len(listed)


def _error(lines: Lines, place: int, reason: str) -> str:
    file, line = parted(place)
    return error_line(lines.names[file], line, reason)
