"""The checklist on one client: a pure function, for workers of one machine and for Spark."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from woundfhir.bulk.work import Done, Task
from woundfhir.catalogue import per_catalogue
from woundfhir.checklist import Level
from woundfhir.checklist.policy import Policy, load
from woundfhir.checklist.site import Checklist, compose
from woundfhir.errors import WIDTH, InputError, escaped
from woundfhir.intake import formats
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


def verdicts(content: bytes, name: str, form: str, choice: Choice) -> Iterator[tuple[Input, Judged]]:
    """Yield what a client's lines hold, and the verdict on it.

    Raises
    ------
    InputError
        For lines that cannot be read.
    """
    policy, checklist = _ready(choice)
    for one in formats.named(form, "read").read_many(content, name):
        if form == "record-ndjson":  # one record, whose line in its file the name says already
            one = replace(one, name=name)
        verdict = judged(
            one,
            checklist=checklist,
            policy=policy,
            ignore=dict(choice.ignored),
            today=choice.today,
            show_values=choice.show_values,
            defaults=choice.defaults,
        )
        yield one, verdict


def check(task: Task, choice: Choice, levels: tuple[Level, ...], *, brief: bool, colour: bool = False) -> Done:
    """Return the report on one client, in the form ``task.to``, and whether it holds a finding of these levels."""
    if task.wrong is not None:
        return Done(error=task.wrong)
    done, parts = Done(), []
    try:
        for one, verdict in verdicts(task.content, task.name, task.form, choice):
            parts.append(_report(verdict, task.to, brief, colour))
            done.told += task.tell(one)
            done.asks |= one.asks
            done.left_aside |= one.left_aside
            done.weighs |= any(verdict.verdict.count(level) for level in levels)
            done.visits += len(one.history.visits)
            done.clients.append(None)
    except InputError as error:
        return Done(error=error)
    done.content = b"".join(parts)
    return done


def _report(verdict: Judged, form: str, brief: bool, colour: bool) -> bytes:
    report = render([verdict], form, brief=brief, colour=colour)
    if form == "text" and brief:  # which does not name its only input
        return f"{escaped(verdict.name, 4 * WIDTH)}\n".encode() + report + b"\n"
    return report
