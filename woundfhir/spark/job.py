"""Whole jobs, from files to files: what ``python -m woundfhir.spark`` runs.

A task may run twice (a machine was lost, or was slow and another began the same work): what is written comes from
Spark's own committer, which takes the output of one of them, and what is counted is counted in what was kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from woundfhir.bulk.outcome import Outcome
from woundfhir.bulk.refusals import not_apart
from woundfhir.checklist import Level
from woundfhir.errors import InputError
from woundfhir.flat.schema import NAMES, Name
from woundfhir.spark.lines import parted
from woundfhir.spark.reading import read
from woundfhir.spark.setting import NOTHING, Setting
from woundfhir.spark.work import Read
from woundfhir.spark.writing import Output, as_text, of_types, save, save_errors, written

if TYPE_CHECKING:
    from pyspark.sql import DataFrame, SparkSession

    from woundfhir.bulk.judging import Choice
    from woundfhir.intake.inputs import Input


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
    with read(spark, inputs, skip_unreadable=output.errors is not None, tell=tell, setting=setting) as found:
        done = found.clients.convert(to, tell).persist()
        found.kept.append(done)
        outcome = _outcome(done, found)
        _refuse(done, found, output)
        _keep_apart(done, to, outcome)
        good = done.where("content is not null")
        save(of_types(good) if output.by_type else good.select("number", as_text("content")), output)
        if output.errors is not None:
            outcome.refused += save_errors(found, done, output)
        if tell is not None:
            for line in (*_notices(found.first), *_notices(done)):
                say(line)
    return outcome


def _notices(done: DataFrame | None) -> Iterator[str]:
    """Yield what was not understood, in lines, client by client."""
    if done is not None:
        rows = done.where("size(notices) > 0").orderBy("number").select("notices").toLocalIterator()
        yield from chain.from_iterable(row.notices for row in rows)


def check(
    spark: SparkSession,
    inputs: Iterable[str | Path],
    output: Output,
    choice: Choice,
    levels: tuple[Level, ...],
    *,
    setting: Setting = NOTHING,
) -> tuple[Outcome, int]:
    """Check the notes of many clients: a finding a line, as ``woundfhir check --format json`` has it.

    Returns how it went, and how many findings are of one of these levels.
    """
    from woundfhir.spark.judging import checked, counting

    output.refuse_taken(spark)
    with read(spark, inputs, skip_unreadable=output.errors is not None, setting=setting) as found:
        done = checked(found.clients, choice).persist()
        found.kept.append(done)
        outcome = _outcome(done, found)
        _refuse(done, found, output)
        weighing = done.where(counting(levels)).count()
        save(done.where("content is not null").select("number", "line", as_text("content")), output)
        if output.errors is not None:
            outcome.refused += save_errors(found, done, output)
    return outcome, weighing


def tables(
    spark: SparkSession,
    inputs: Iterable[str | Path],
    output: Output,
    names: Iterable[Name] = NAMES,
    *,
    setting: Setting = NOTHING,
) -> Outcome:
    """Write tables for analysis: a folder of Parquet files for each, with the schema and the rows of one machine."""
    from woundfhir.spark.tabling import ORDER, tabled

    output.refuse_taken(spark)
    with read(spark, inputs, skip_unreadable=output.errors is not None, setting=setting) as found:
        done = found.clients.convert("record-ndjson").persist()
        found.kept.append(done)
        outcome = _outcome(done, found)
        _refuse(done, found, output)
        twice = tabled(done, "clients", setting).groupBy("client").count().where("count > 1")
        if not twice.isEmpty():
            fix = "Join the two first: woundfhir receive, or woundfhir.merge"
            wrong = "two records are of the same client, and their visits would count twice"
            raise InputError("the input", "each client once", fix, found=wrong)
        for name in names:
            rows = tabled(done, name, setting).orderBy(*ORDER).drop(*ORDER)
            written(rows.write.mode(output.mode).parquet, _below(output.folder, name))
        if output.errors is not None:
            outcome.refused += save_errors(found, done, output)
    return outcome


def _below(folder: str, name: str) -> str:
    return f"{folder.rstrip('/')}/{name}"


def _outcome(done: DataFrame, found: Read) -> Outcome:
    """Return how it went, with what reading a table said before."""
    outcome = _summed(done)
    if found.first is not None:
        before = _summed(found.first)
        outcome.asks |= before.asks
        outcome.left_aside |= before.left_aside
    return outcome


def _summed(done: DataFrame) -> Outcome:
    from pyspark.sql import functions as F

    row = done.agg(
        F.coalesce(F.bool_or("asks"), F.lit(False)).alias("asks"),
        F.coalesce(F.bool_or("left_aside"), F.lit(False)).alias("left_aside"),
        F.coalesce(F.sum(F.when(F.col("clients").isNotNull(), F.size("clients"))), F.lit(0)).alias("clients"),
        F.coalesce(F.sum("visits"), F.lit(0)).alias("visits"),
    ).collect()[0]
    return Outcome(asks=row.asks, left_aside=row.left_aside, clients=row.clients, visits=row.visits)


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
