"""What a job writes: folders that Spark makes, with parts whose order is that of one machine."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from woundfhir.bulk.refusals import ERRORS, NOT_READ, error_line
from woundfhir.errors import InputError
from woundfhir.r4.ndjson import type_of
from woundfhir.spark.lines import Lines, parted
from woundfhir.spark.whose import arrow_schema
from woundfhir.spark.work import Read

if TYPE_CHECKING:
    import pyarrow
    from pyspark.sql import DataFrame, SparkSession


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

    @property
    def mode(self) -> str:
        """What Spark is to do with what is there."""
        return "overwrite" if self.force else "errorifexists"

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


def as_text(column: str) -> Any:
    """Return lines as the text of one row: Spark ends a row by itself."""
    from pyspark.sql import functions as F

    return F.rtrim(F.col(column).cast("string"), F.lit("\n")).alias("text")


_TYPES = "number bigint, line bigint, resourceType string, text string"


def of_types(done: DataFrame) -> DataFrame:
    """Return each line with the type of its resource."""
    return done.select("number", "content").mapInArrow(_by_type, _TYPES)


def _by_type(batches: Iterator[pyarrow.RecordBatch]) -> Iterator[pyarrow.RecordBatch]:
    import pyarrow

    for batch in batches:
        rows = [
            {"number": number, "line": line, "resourceType": type_of(text), "text": text.decode()}
            for number, content in zip(*(one.to_pylist() for one in batch.columns), strict=True)
            for line, text in enumerate(content.splitlines())
        ]
        yield pyarrow.RecordBatch.from_pylist(rows, arrow_schema(_TYPES))


_PACKS = {None: "none", "gz": "gzip", "zst": "zstd"}


def save(frame: DataFrame, output: Output, folder: str | None = None) -> None:
    """Write lines in order; of each type of resource in a folder of its own, where there are types."""

    order = [one for one in frame.columns if one in ("number", "line")]
    ordered = frame.orderBy(*order)
    kinds = [one for one in frame.columns if one == "resourceType"]
    if kinds:
        ordered = ordered.sortWithinPartitions(*kinds, *order)
    writer = ordered.drop(*order).write.mode(output.mode).partitionBy(*kinds)
    written(partial(writer.text, compression=_PACKS[output.pack], lineSep="\n"), folder or output.folder)


def written(write: Callable[[str], object], folder: str) -> None:
    """Write to a folder; what Spark says of a folder that it cannot write to becomes a message of ours."""
    from pyspark.errors import PySparkException

    try:
        write(folder)
    except PySparkException as error:
        wrong = f"it cannot be written ({error.getCondition() or type(error).__name__})"
        raise InputError(folder, "a folder to write to", "Look at its permissions", found=wrong) from None


def save_errors(found: Read, done: DataFrame, output: Output) -> int:
    """List what cannot be read: lines first, then clients, as one machine does."""
    assert output.errors is not None
    lines = found.clients.lines
    rows = [] if found.refused is None else found.refused.orderBy("place").collect()
    listed = [_error(lines, row.place, row.reason) for row in rows]
    failed = done.where("expected is not null").orderBy("number").select("place", "expected").collect()
    listed += [_error(lines, row.place, NOT_READ.format(row.expected)) for row in failed]
    numbered = list(enumerate([ERRORS, *listed]))
    frame = done.sparkSession.createDataFrame(numbered, "number bigint, text string").coalesce(1)
    save(frame, Output(output.errors, force=output.force), output.errors)
    return len(listed)


def _error(lines: Lines, place: int, reason: str) -> str:
    file, line = parted(place)
    return error_line(lines.names[file], line, reason)
