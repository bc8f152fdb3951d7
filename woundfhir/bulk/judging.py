"""The checklist on one client: a pure function, for workers of one machine and for Spark."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from woundfhir.bulk.work import Done, Task, worked
from woundfhir.catalogue import per_catalogue
from woundfhir.checklist import Level
from woundfhir.checklist.policy import Policy, load
from woundfhir.checklist.site import Checklist, compose
from woundfhir.errors import WIDTH, escaped
from woundfhir.intake.inputs import Input
from woundfhir.report import Judged, render
from woundfhir.report.received import judged

#: The forms of a report that are written client by client.
FORMS = ("text", "ndjson")


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


@per_catalogue(4)
def _ready(choice: Choice) -> tuple[Policy, Checklist]:
    return load(choice.policy), compose(choice.checklists)


def judge(one: Input, choice: Choice) -> Judged:
    """Return the verdict on one client."""
    policy, checklist = _ready(choice)
    return judged(
        one,
        checklist=checklist,
        policy=policy,
        ignore=dict(choice.ignored),
        today=choice.today,
        show_values=choice.show_values,
        defaults=choice.defaults,
    )


def check(task: Task, choice: Choice, levels: tuple[Level, ...], *, brief: bool, colour: bool = False) -> Done:
    """Return the report on one client, in the form ``task.to``, and whether it holds a finding of these levels."""

    def make(one: Input, done: Done) -> bytes:
        verdict = judge(one, choice)
        done.weighs |= any(verdict.verdict.count(level) for level in levels)
        return _report(verdict, task.to, brief, colour)

    return worked(task, make)


def _report(verdict: Judged, form: str, brief: bool, colour: bool) -> bytes:
    report = render([verdict], form, brief=brief, colour=colour)
    if form == "text" and brief:  # which does not name its only input
        return f"{escaped(verdict.name, 4 * WIDTH)}\n".encode() + report + b"\n"
    return report
