"""``woundfhir check``: is the note complete, and does it hold together?"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from woundfhir.cli import options
from woundfhir.cli.common import colours
from woundfhir.cli.terms_option import look_up, terminology
from woundfhir.errors import InputError

if TYPE_CHECKING:
    from woundfhir.checklist import Level

_FORMATS = ("text", "json", "outcome", "junit", "sarif", "github", "html")
_FAIL_ON = ("error", "warning", "information", "never")


@click.command()
@options.inputs
@options.report(*_FORMATS)
@click.option("--fail-on", type=click.Choice(_FAIL_ON), default="error", show_default=True)
@click.option("--policy", show_default="ontario, or that of --site", metavar="NAME|FILE")
@click.option("--checklist", "checklists", multiple=True, metavar="NAME|FILE")
@click.option("--ignore", "ignored", multiple=True, metavar="CODE=REASON")
@click.option("--today", metavar="DATE")
@click.option("--show-values", is_flag=True)
@click.option("--visit", metavar="last|ID")
@click.option("--defaults", metavar="FILE")
@click.option("--brief/--all", "brief", default=None)
@options.patient
@options.strict
@terminology
@options.output
def command(inputs: tuple[str, ...], output: Path | None, force: bool, **chosen: Any) -> int:
    """Check the notes in IN: records, FHIR resources or Bundles, files, folders, or - for standard input."""
    from woundfhir.checklist import LEVELS
    from woundfhir.checklist.policy import load
    from woundfhir.checklist.site import compose
    from woundfhir.intake.choosing import chosen as of_client
    from woundfhir.intake.source import read_all
    from woundfhir.report import render
    from woundfhir.report.received import judged

    form = options.form_of(chosen["form"], output, _FORMATS)
    policy, checklist = load(chosen["policy"]), compose(chosen["checklists"])
    ignore, today = ignored_rules(chosen["ignored"]), day(chosen["today"])
    reports, came = [], []
    for one in of_client(read_all(inputs), chosen["patient"]):
        options.tell_losses(one.name, one.losses, one.report)
        came.append(one)
        reports.append(
            judged(
                one,
                checklist=checklist,
                policy=policy,
                ignore=ignore,
                today=today,
                show_values=chosen["show_values"],
                visit=chosen["visit"],
                defaults=chosen["defaults"],
            )
        )
    fail_on = chosen["fail_on"]
    colour = form == "text" and output is None and colours()
    least: Level = "error" if fail_on == "never" else fail_on
    brief = (output is None and not chosen["show_values"]) if chosen["brief"] is None else chosen["brief"]
    content = render(reports, form, fail_on=least, colour=colour, brief=brief)
    options.emit(content, output, force)
    look_up(chosen["terminology"], (one.report for one in came))
    counting = () if fail_on == "never" else LEVELS[: LEVELS.index(fail_on) + 1]
    if counting and options.exit_code(*came, strict=chosen["strict"]):
        return 1
    if any(one.verdict.count(level) for one in reports for level in counting):
        return 1
    # A safety prompt on another note still waits for its answer, whichever note was asked for.
    waiting = (found for one in reports for found in one.verdict.elsewhere if found.severity == "caution")
    return 1 if any(found.level in counting for found in waiting) else 0


def ignored_rules(given: tuple[str, ...]) -> dict[str, str]:
    """Return the rules to leave out, with their reasons, of ``--ignore``."""
    out = {}
    for one in given:
        code, equals, reason = one.partition("=")
        if not equals or not code.strip() or not reason.strip():
            raise InputError("--ignore", "CODE=REASON", "Give the code of a rule and the reason why it is left out")
        out[code.strip()] = reason.strip()
    return out


def day(text: str | None) -> date | None:
    """Return the day of ``--today``."""
    try:
        return None if text is None else date.fromisoformat(text)
    except ValueError:
        raise InputError("--today", "a date such as 2026-03-31", "Write year, month and day") from None
