"""The checklist on each client: what ``woundfhir check`` finds, a finding a row."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

import msgspec

from woundfhir.bulk.judging import Choice, judge
from woundfhir.bulk.work import Task
from woundfhir.checklist import Level
from woundfhir.errors import InputError
from woundfhir.report.machine import findings
from woundfhir.spark.work import Client, Clients, Row, failed, nothing, too_large

if TYPE_CHECKING:
    from pyspark.sql import DataFrame

#: A finding: ``content`` is that of ``woundfhir check --format json`` in one line. A client has one row more, without
#: ``content``, with what ``woundfhir.bulk.work.Done`` says of them; where they cannot be read, the words of it.
CHECKED = (
    "number bigint, line bigint, level string, content binary, asks boolean, left_aside boolean, visits bigint, "
    "clients array<binary>, place bigint, expected string, fix string, found string, ends boolean"
)


def checked(clients: Clients, choice: Choice | None = None) -> DataFrame:
    """Return the findings of the checklist on each client.

    Returns
    -------
    DataFrame
        As ``CHECKED`` says, in any order; ``number`` and ``line`` are that of one machine.
    """
    return clients.mapped(partial(_checked, form=clients.form, choice=choice or Choice()), CHECKED)


def _checked(client: Client, form: str, choice: Choice) -> Iterator[Row]:
    if (wrong := too_large(client, form)) is not None:
        yield failed(client, wrong, ends=True)
        return
    try:
        rows = list(_findings(client, form, choice))
    except InputError as error:
        yield failed(client, error)
        return
    yield from rows


def _findings(client: Client, form: str, choice: Choice) -> Iterator[Row]:
    line = 0
    for one in Task(client.name, client.content, form, "ndjson", nothing).read():
        for finding in findings(judge(one, choice)):
            line += 1
            yield _row(client, line, level=finding["severity"], content=msgspec.json.encode(finding))
        yield {
            **_row(client, 0, asks=one.asks, left_aside=one.left_aside, visits=len(one.history.visits)),
            "clients": [b""],
        }


def _row(client: Client, line: int, **more: Any) -> Row:
    return {"number": client.number, "line": line, **more}


def counting(levels: tuple[Level, ...]) -> Any:
    """Return the column that says whether a row is a finding of one of these levels."""
    from pyspark.sql import functions as F

    return F.coalesce(F.col("level").isin(*levels), F.lit(False)) if levels else F.lit(False)
