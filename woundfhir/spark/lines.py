"""The lines of files as a DataFrame: each knows where it stands, so that an order of the whole is defined.

Spark reads the files, parts them, and unpacks them; a line is known by the number of its file and its number there,
put into one whole number (``place``).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

from woundfhir.bulk.forms import one_form
from woundfhir.bulk.lines import title_of
from woundfhir.bulk.whose import NotPlain
from woundfhir.errors import InputError
from woundfhir.intake.source import named
from woundfhir.spark.session import own_session

if TYPE_CHECKING:
    from pyspark.sql import Column, DataFrame, SparkSession

#: Bits of a place that hold the number of the line.
_BITS = 40
#: So much of the first line of a file shows its format.
_HEAD = 64 * 1024
_GLOB = re.compile(r"([\\\[\]{}*?,^])")


def place(file: int, line: int) -> int:
    """Return where a line stands as one number, in the order of files and lines.

    Examples
    --------
    >>> parted(place(2, 7)), place(1, 9) < place(2, 1)
    ((2, 7), True)
    """
    return file << _BITS | line


def parted(found: int) -> tuple[int, int]:
    """Return the number of the file and of the line of a place."""
    return found >> _BITS, found & ((1 << _BITS) - 1)


def file_of(column: str) -> Column:
    """Return the number of the file of each place in a column."""
    from pyspark.sql import functions as F

    return F.shiftright(column, _BITS)


@dataclass(frozen=True)
class Lines:
    """What stands in files.

    Parameters
    ----------
    frame
        ``place`` (bigint) and ``text`` (binary): each line, blank ones too, without its end.
    names
        What messages call the files.
    form
        Their one format, ``ndjson`` or ``record-ndjson``.
    each
        What messages call one of them.
    """

    frame: DataFrame
    names: list[str]
    form: str
    each: str = "line"

    def title(self) -> str:
        """Return what messages call all of it."""
        return title_of(self.names)

    def where(self, found: int) -> str:
        """Return a place in words."""
        file, line = parted(found)
        return f"{self.names[file]}, {self.each} {line}"


def open_lines(spark: SparkSession, inputs: Iterable[str | Path]) -> Lines:
    """Open files and folders, on this machine's file system or at an address (``hdfs://``, ``s3a://``).

    Raises
    ------
    InputError
        For what is not there, is standard input, or is named twice.
    NotPlain
        For files that are not all of one format that is read client by client.
    """
    own = own_session(spark)
    names, addresses = _found(own, inputs)
    numbers = {_key(address): number for number, address in enumerate(addresses)}
    if len(numbers) < len(addresses):
        raise InputError(names[0], "each file once", "Name it once", found="a file is named twice")
    raw = _raw(own, addresses)
    blocks = _blocks(raw, numbers)
    form = one_form(_heads(blocks, len(names)))
    if form is None:
        raise NotPlain
    return Lines(_numbered(own, raw, blocks), names, form)


def _found(spark: SparkSession, inputs: Iterable[str | Path]) -> tuple[list[str], list[str]]:
    """Return what messages call each file, and its address."""
    names: list[str] = []
    addresses: list[str] = []
    for given in map(str, inputs):
        if given == "-":
            raise InputError("-", "files or folders", "Write it to a file that all machines can read")
        if _is_address(given):
            listed = _listed(spark, given)
            names += listed
            addresses += listed
            continue
        for name in named([given]):
            path = Path(name)
            if not path.is_file():
                fix = "Check the name and the folder; on a cluster every machine must see it under this name"
                raise InputError(name, "a file or a folder", fix, found="there is no such file")
            names.append(name)
            addresses.append(str(path.absolute()))
    return names, addresses


def _is_address(name: str) -> bool:
    return "://" in name


def _listed(spark: SparkSession, address: str) -> list[str]:
    from pyspark.errors import PySparkException

    try:
        found = spark.read.option("recursiveFileLookup", "true").text(address).inputFiles()
    except PySparkException as error:
        wrong = f"it cannot be read ({error.getCondition() or type(error).__name__})"
        raise InputError(address, "files that this user may read", "Check the address", found=wrong) from None
    if not found:
        raise InputError(address, "a folder with files in it", "Check the address", found="there are none")
    return sorted(unquote(one) for one in found)


def _key(address: str) -> str:
    """Return an address by which a file is known, however Spark writes it."""
    return re.sub(r"^file:/+", "/", address)


def _raw(spark: SparkSession, addresses: list[str]) -> DataFrame:
    from pyspark.sql import functions as F

    files = [_GLOB.sub(r"\\\1", one if _is_address(one) else f"file://{one}") for one in addresses]
    frame = spark.read.text(files, lineSep="\n").select(
        F.col("value").cast("binary").alias("text"),
        F.col("_metadata.file_path").alias("path"),
        F.col("_metadata.file_block_start").alias("start"),
    )
    return frame.withColumn("at", F.monotonically_increasing_id())


@dataclass
class _Block:
    """A part of a file that one task reads."""

    path: str
    start: int
    count: int
    at: int
    head: bytes
    file: int = 0
    before: int = 0


def _blocks(raw: DataFrame, numbers: dict[str, int]) -> list[_Block]:
    """Return the parts of the files in order, with what stands before each."""
    from pyspark.sql import functions as F

    counted = raw.groupBy("path", "start").agg(
        F.count("*").alias("count"),
        F.min("at").alias("at"),
        F.min_by(F.substring("text", 1, _HEAD), "at").alias("head"),
    )
    blocks = [_Block(**{**row.asDict(), "head": bytes(row["head"])}) for row in counted.collect()]
    for one in blocks:
        one.file = numbers[_key(unquote(one.path))]
    blocks.sort(key=lambda one: (one.file, one.start))
    for last, one in pairwise(blocks):
        one.before = last.before + last.count if one.file == last.file else 0
    return blocks


def _heads(blocks: list[_Block], files: int) -> list[bytes]:
    heads = [b""] * files
    for one in blocks:
        if one.before == 0 and not heads[one.file]:
            heads[one.file] = one.head if len(one.head) == _HEAD else one.head + b"\n"
    return heads


def _numbered(spark: SparkSession, raw: DataFrame, blocks: list[_Block]) -> DataFrame:
    """Return lines with their places; what a query has parted otherwise is an error, never a wrong number."""
    from pyspark.sql import functions as F

    known: list[tuple[Any, ...]] = [
        (one.path, one.start, one.at, one.count, place(one.file, one.before)) for one in blocks
    ]
    table = spark.createDataFrame(known, "path string, start bigint, first bigint, count bigint, before bigint")
    joined = raw.join(F.broadcast(table), ["path", "start"], "left")
    number = F.col("at") - F.col("first")
    right = number.between(F.lit(0), F.col("count") - 1)
    found = F.when(right, F.col("before") + number + 1).otherwise(F.raise_error(F.lit(_CHANGED)).cast("bigint"))
    return joined.select(found.alias("place"), "text")


_CHANGED = "woundfhir: a file was changed while it was read"
