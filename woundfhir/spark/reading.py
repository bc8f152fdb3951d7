"""Files on a cluster as clients: the way in of every job."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from woundfhir.bulk.whose import NotPlain
from woundfhir.errors import InputError
from woundfhir.extras import need
from woundfhir.spark.grouping import grouped
from woundfhir.spark.lines import open_lines
from woundfhir.spark.setting import NOTHING, Setting
from woundfhir.spark.work import Clients

if TYPE_CHECKING:
    from pyspark.sql import DataFrame, SparkSession


@dataclass
class Read:
    """What was read.

    Parameters
    ----------
    clients
        The clients, to be worked on.
    refused
        ``place`` and ``reason`` of lines that cannot be read; None where there are none.
    kept
        What Spark keeps meanwhile.
    """

    clients: Clients
    refused: DataFrame | None = None
    kept: list[DataFrame] = field(default_factory=list)

    def __enter__(self) -> Read:
        return self

    def __exit__(self, *_: object) -> None:
        for one in self.kept:
            one.unpersist()


def read(
    spark: SparkSession, inputs: Iterable[str | Path], *, skip_unreadable: bool = False, setting: Setting = NOTHING
) -> Read:
    """Read many clients: FHIR resources one a line, or records one a line; plain, .gz, .zst; files, folders, addresses.

    Parameters
    ----------
    spark
        The session.
    inputs
        Names of files and folders that every machine sees, or addresses (``hdfs://``, ``s3a://``).
    skip_unreadable
        Leave lines out that hold no resource; ``refused`` lists them.
    setting
        Site, maps and language.

    Raises
    ------
    InputError
        For what is not there, a line that cannot be read, or resources that name clients in another way than by
        references to Patients: those have to be seen as a whole, by ``woundfhir convert``.

    Examples
    --------
    >>> with read(spark, ["export/"]) as found:  # doctest: +SKIP
    ...     found.clients.convert("record-ndjson").select("number", "visits").show()
    """
    need("spark", "woundfhir.spark")
    try:
        lines = open_lines(spark, inputs)
        if lines.form != "ndjson":
            return Read(Clients(lines.frame, lines.form, lines, setting))
        found = grouped(lines, skip_unreadable)
    except NotPlain:
        expected = "one FHIR resource a line, each naming its Patient by a reference (or one record a line)"
        raise InputError("the input", expected, "Convert it on one machine: woundfhir convert") from None
    return Read(Clients(found.rows, lines.form, lines, setting), found.refused, found.kept)
