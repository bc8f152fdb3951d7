"""The checklist on each client: what ``woundfhir check`` finds, a finding a row."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any

import msgspec

from woundfhir.catalogue import per_catalogue
from woundfhir.checklist import Level
from woundfhir.checklist.policy import Policy, load
from woundfhir.checklist.site import Checklist, compose
from woundfhir.errors import InputError
from woundfhir.intake import formats
from woundfhir.report.machine import findings
from woundfhir.report.received import judged
from woundfhir.spark.work import Client, Clients, Row, failed, too_large

if TYPE_CHECKING:
    from pyspark.sql import DataFrame

#: A finding: ``content`` is that of ``woundfhir check --format json`` in one line. A client has one row more, without
#: ``content``, with what ``woundfhir.bulk.work.Done`` says of them; where they cannot be read, the words of it.
CHECKED = (
    "number bigint, line bigint, level string, content binary, asks boolean, left_aside boolean, visits bigint, "
    "clients array<binary>, place bigint, expected string, fix string, found string, ends boolean"
)


@dataclass(frozen=True)
class Choice:
    """What is judged by: the options of ``woundfhir check``.

    Parameters
    ----------
    policy, checklists, defaults
        Names, or files that every machine finds under this name.
    ignored
        Codes of rules, with reasons.
    today
        The day on which it is judged what is overdue; without it that of the newest note.
    show_values
        Whether findings hold values of the client.
    """

    policy: str | None = None
    checklists: tuple[str, ...] = ()
    ignored: tuple[tuple[str, str], ...] = ()
    today: date | None = None
    show_values: bool = False
    defaults: str | None = None


def checked(clients: Clients, choice: Choice | None = None) -> DataFrame:
    """Return the findings of the checklist on each client.

    Returns
    -------
    DataFrame
        As ``CHECKED`` says, in any order; ``number`` and ``line`` are that of one machine.
    """
    return clients.mapped(partial(_checked, form=clients.form, choice=choice or Choice()), CHECKED)


@per_catalogue(4)
def _ready(choice: Choice) -> tuple[Policy, Checklist]:
    return load(choice.policy), compose(choice.checklists)


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
    policy, checklist = _ready(choice)
    line = 0
    for one in formats.named(form, "read").read_many(client.content, client.name):
        verdict = judged(
            one,
            checklist=checklist,
            policy=policy,
            ignore=dict(choice.ignored),
            today=choice.today,
            show_values=choice.show_values,
            defaults=choice.defaults,
        )
        for finding in findings(verdict):
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
