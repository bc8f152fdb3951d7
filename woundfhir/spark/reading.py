"""Files on a cluster as clients: the way in of every job."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from woundfhir.bulk.whose import NotPlain
from woundfhir.errors import InputError
from woundfhir.extras import need
from woundfhir.spark.grouping import grouped
from woundfhir.spark.lines import open_lines
from woundfhir.spark.session import own_session
from woundfhir.spark.setting import NOTHING, Setting
from woundfhir.spark.work import Clients, Read

if TYPE_CHECKING:
    from pyspark.sql import SparkSession

    from woundfhir.intake.inputs import Input


def read(
    spark: SparkSession,
    inputs: Iterable[str | Path],
    *,
    skip_unreadable: bool = False,
    tell: Callable[[Input], list[str]] | None = None,
    setting: Setting = NOTHING,
) -> Read:
    """Read many clients: FHIR resources one a line, or records one a line; plain, .gz, .zst; files, folders, addresses.

    Names that end in ``.parquet`` are tables of others, read by the map of ``setting`` whose columns they have; tables
    in other forms are read by Spark and given to ``woundfhir.spark.read_rows``.

    Parameters
    ----------
    spark
        The session.
    inputs
        Names of files and folders that every machine sees, or addresses (``hdfs://``, ``s3a://``).
    skip_unreadable
        Leave lines out that hold no resource; ``refused`` lists them.
    tell
        Of tables: says what was not understood, in lines (``notices`` of ``Read.first``).
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
    given = list(map(str, inputs))
    if given and all(name.rstrip("/").endswith(".parquet") for name in given):
        return _tables(spark, given, tell, setting)
    try:
        lines = open_lines(spark, given)
        if lines.form != "ndjson":
            return Read(Clients(lines.frame, lines.form, lines, setting))
        found = grouped(lines, skip_unreadable)
    except NotPlain:
        expected = "one FHIR resource a line, each naming its Patient by a reference (or one record a line)"
        raise InputError("the input", expected, "Convert it on one machine: woundfhir convert") from None
    return Read(Clients(found.rows, lines.form, lines, setting), found.refused, found.kept)


def _tables(spark: SparkSession, given: list[str], tell: Callable[[Input], list[str]] | None, setting: Setting) -> Read:
    """Read tables of others by the map in force that fits their columns."""
    from pyspark.errors import PySparkException

    from woundfhir.spark.rows import read_parquet
    from woundfhir.tables.in_force import fitting, in_force
    from woundfhir.tables.sheet import Line, Sheet

    try:
        frame = own_session(spark).read.parquet(*given)
    except PySparkException as error:
        wrong = f"it cannot be read ({error.getCondition() or type(error).__name__})"
        raise InputError(given[0], "Parquet files of one table", "Check the name and the folder", found=wrong) from None
    setting.hold()
    if not (mappings := in_force()):
        raise InputError("--map", "what the columns mean", "Write a map: woundfhir map table", found="no map is given")
    columns = frame.columns
    mapping = fitting(mappings, lambda _: Sheet(given[0], "rows", iter([Line(0, list(columns))])), given[0])
    return read_parquet(frame, mapping, given[0], tell, setting)
