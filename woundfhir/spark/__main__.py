"""Jobs over many clients on Spark: ``spark-submit`` runs this file, and ``python -m woundfhir.spark`` on one machine.

The options have the names that they have in ``woundfhir convert`` and ``woundfhir check``. What is written is a folder
of parts; in the order of their names, they are the bytes that one machine writes.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from woundfhir.bulk.forms import FORMS
from woundfhir.checklist import LEVELS
from woundfhir.cli import options
from woundfhir.cli.check_ import ignored_rules
from woundfhir.cli.net import ended
from woundfhir.cli.streamed import lines_of
from woundfhir.errors import WoundfhirError
from woundfhir.extras import need
from woundfhir.flat.schema import NAMES, Name
from woundfhir.language import LANGUAGES
from woundfhir.record.dates import given_day
from woundfhir.spark.setting import Setting

if TYPE_CHECKING:
    from pyspark.sql import SparkSession

    from woundfhir.bulk.outcome import Outcome
    from woundfhir.spark.writing import Output

_Verb = Callable[..., int]
_OUTPUT = "A folder, or the address of one, that Spark makes; parts in the order of their names."
_ERRORS = "List what cannot be read in this folder (file, line, reason) and go on; exit code 1 where there is some."
_SITE = "The folder of your site; on a cluster it comes with --archives."
_MAP = "What codes or columns mean; may be given again."
_FAIL_ON = "Exit 1 from here on."
_PARTITIONS = "In how many parts clients are worked on; default: what spark.sql.shuffle.partitions says."


def _shared(command: _Verb) -> _Verb:
    for option in (
        click.argument("inputs", nargs=-1, required=True, metavar="IN..."),
        click.option("-o", "--output", required=True, metavar="FOLDER", help=_OUTPUT),
        click.option("--errors", metavar="FOLDER", help=_ERRORS),
        click.option("--force", is_flag=True, help="Write over folders that are there."),
        click.option("--site", metavar="DIR", envvar="WOUNDFHIR_SITE", help=_SITE),
        click.option("--map", "maps", multiple=True, metavar="FILE", help=_MAP),
        click.option(
            "--lang", metavar="|".join(LANGUAGES), envvar="WOUNDFHIR_LANG", help="The language of what people read."
        ),
        click.option("--partitions", type=click.IntRange(1), metavar="N", help=_PARTITIONS),
        click.option("--strict", is_flag=True, help="Exit 1 when anything that came has no place in the record."),
    ):
        command = option(command)
    return command


@click.group(help=__doc__)
def command() -> None:
    """Run one of the jobs."""


@command.command("convert")
@click.option("-t", "--to", type=click.Choice(FORMS), default="record-ndjson", show_default=True, help="The format.")
@click.option("--by-type", is_flag=True, help="A folder for each type of resource (ndjson).")
@click.option("--pack", type=click.Choice(("gz", "zst")), help="How the parts are compressed.")
@_shared
def _convert(to: str, by_type: bool, pack: str | None, **more: Any) -> int:
    """Read IN (FHIR resources or records, one a line; tables as Parquet, by --map) and write records or FHIR.

    Exit codes are those of `woundfhir convert`.
    """
    from woundfhir.spark.job import convert

    with _job(more, pack=pack, by_type=by_type) as (spark, output, setting):
        found = convert(spark, more["inputs"], to, output, setting=setting, tell=lines_of, say=options.say)
    return _concluded(found, more["strict"])


@command.command("check")
@click.option("--fail-on", type=click.Choice((*LEVELS, "never")), default="error", show_default=True, help=_FAIL_ON)
@click.option("--policy", metavar="NAME|FILE", help="ontario, international, or your own file.")
@click.option("--checklist", "checklists", multiple=True, metavar="NAME|FILE", help="standard, transfer, or your own.")
@click.option("--ignore", "ignored", multiple=True, metavar="CODE=REASON", help="Leave a rule out.")
@click.option("--today", metavar="DATE", help="Judge what is overdue on this day; default: that of the newest note.")
@click.option("--show-values", is_flag=True, help="Show what was found: the output then holds values of clients.")
@click.option("--defaults", metavar="FILE", help="What never changes at your site (TOML).")
@_shared
def _check(fail_on: str, ignored: tuple[str, ...], today: str | None, **more: Any) -> int:
    """Check the notes in IN: a finding a line, as `woundfhir check --format json` has it.

    Exit codes are those of `woundfhir check`.
    """
    from woundfhir.bulk.judging import Choice
    from woundfhir.spark.job import check

    rest = {name: more[name] for name in ("policy", "checklists", "show_values", "defaults")}
    choice = Choice(ignored=tuple(ignored_rules(ignored).items()), today=given_day(today, "--today"), **rest)
    levels = () if fail_on == "never" else LEVELS[: LEVELS.index(fail_on) + 1]
    with _job(more) as (spark, output, setting):
        found, weighing = check(spark, more["inputs"], output, choice, levels, setting=setting)
    options.note(f"{found.clients:,} clients, {found.visits:,} visits.")
    asks = bool(levels) and options.exit_code(found, strict=more["strict"])
    return int(bool(asks or weighing or found.refused))


@command.command("tables")
@click.option("--table", "names", multiple=True, type=click.Choice(NAMES), help="Only this one; may be given again.")
@_shared
def _tables(names: tuple[Name, ...], **more: Any) -> int:
    """Write the tables for analysis (`woundfhir explain tables`): for each a folder of Parquet files."""
    from woundfhir.spark.job import tables

    with _job(more) as (spark, output, setting):
        found = tables(spark, more["inputs"], output, names or NAMES, setting=setting)
    return _concluded(found, more["strict"])


def _concluded(found: Outcome, strict: bool) -> int:
    options.note(f"{found.clients:,} clients, {found.visits:,} visits.")
    return options.exit_code(found, strict=strict, more=bool(found.refused))


@contextmanager
def _job(given: dict[str, Any], **more: Any) -> Iterator[tuple[SparkSession, Output, Setting]]:
    """Yield the session and the options of a job; an error of Spark is shown without a value of the client."""
    need("spark", "woundfhir.spark")
    from pyspark.errors import PySparkException
    from pyspark.sql import SparkSession

    from woundfhir.spark.writing import Output

    if "PYSPARK_PYTHON" not in os.environ and "SPARK_ENV_LOADED" not in os.environ:
        os.environ["PYSPARK_PYTHON"] = sys.executable  # not under spark-submit, which has its own setting
    setting = Setting(given["site"], given["maps"], given["lang"])
    setting.hold()
    spark = SparkSession.builder.appName("woundfhir").getOrCreate()
    if given["partitions"]:
        spark.conf.set("spark.sql.shuffle.partitions", str(given["partitions"]))
    try:
        yield spark, Output(given["output"], given["errors"], given["force"], **more), setting
    except PySparkException as error:
        raise WoundfhirError(_FAILED.format(error.getCondition() or type(error).__name__)) from None
    finally:
        spark.stop()


_FAILED = "Spark could not finish ({}); nothing was written. Its log says which task failed, on which machine, and why"


def main() -> None:
    """Run a job and end with its exit code."""
    sys.exit(ended(lambda: command.main(prog_name="woundfhir.spark", standalone_mode=False)))


if __name__ == "__main__":
    main()
