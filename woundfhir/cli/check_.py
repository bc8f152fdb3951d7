"""``woundfhir check``: is the note complete, and does it hold together?"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from woundfhir.cli import options, resuming, streamed
from woundfhir.cli.common import colours
from woundfhir.cli.narrow import narrowed
from woundfhir.cli.terms_option import look_up, terminology
from woundfhir.cli.texts import count, words
from woundfhir.errors import InputError

if TYPE_CHECKING:
    from woundfhir.checklist import Level
    from woundfhir.intake.inputs import Input
    from woundfhir.report.judged import Judged

_FORMATS = ("text", "json", "outcome", "junit", "sarif", "github", "html", "ndjson")
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
@click.option("--skip-others", is_flag=True)
@click.option("--brief/--all", "brief", default=None)
@streamed.reporting
@options.patient
@options.strict
@terminology
@options.output
def command(inputs: tuple[str, ...], output: Path | None, force: bool, **chosen: Any) -> int:
    """Check the notes in IN: records, FHIR resources or Bundles, files, folders, or - for standard input."""
    from woundfhir.intake.choosing import chosen as of_client
    from woundfhir.intake.source import read_all

    if chosen["skip_others"]:
        inputs = _with_notes(inputs)
        if not inputs:
            return 0
    form = options.form_of(chosen["form"], output, _FORMATS)
    judge = _judging(chosen)
    many = streamed.Choice(chosen["workers"], chosen["errors"], chosen["progress"], resume=chosen["resume"])
    if (code := _streamed(inputs, form, output, force, many, chosen)) is not None:
        return code
    reports, came = [], []
    for one in of_client(read_all(inputs), chosen["patient"]):
        options.tell_losses(one.name, one.losses, one.report)
        came.append(one)
        reports.append(judge(one))
    options.emit(_rendered(reports, form, output, chosen), output, force)
    look_up(chosen["terminology"], (one.report for one in came))
    counting = _counting(chosen["fail_on"])
    asks = bool(counting) and bool(options.exit_code(*came, strict=chosen["strict"]))
    return int(asks or any(_weighs(one, counting) for one in reports))


def _judging(chosen: dict[str, Any]) -> Callable[[Input], Judged]:
    """Return what judges one input, by the policy, the rules and the day that were chosen."""
    from woundfhir.checklist.policy import load
    from woundfhir.checklist.site import compose
    from woundfhir.record.dates import given_day
    from woundfhir.report.received import judged

    return partial(
        judged,
        policy=load(chosen["policy"]),
        checklist=compose(chosen["checklists"]),
        ignore=ignored_rules(chosen["ignored"]),
        today=given_day(chosen["today"], "--today"),
        show_values=chosen["show_values"],
        visit=chosen["visit"],
        defaults=chosen["defaults"],
    )


def _rendered(reports: list[Judged], form: str, output: Path | None, chosen: dict[str, Any]) -> bytes:
    from woundfhir.report import render

    least: Level = "error" if chosen["fail_on"] == "never" else chosen["fail_on"]
    colour = form == "text" and output is None and colours()
    content = render(reports, form, fail_on=least, colour=colour, brief=_brief(output, chosen))
    return narrowed(content.decode()).encode() if form == "text" and output is None else content


def _weighs(one: Judged, counting: tuple[Level, ...]) -> bool:
    """Whether a report holds a finding of a level that makes the exit code 1.

    A safety prompt on another note still waits for its answer, whichever note was asked for.
    """
    waiting = (found for found in one.verdict.elsewhere if found.severity == "caution")
    return any(one.verdict.count(level) for level in counting) or any(found.level in counting for found in waiting)


def _with_notes(inputs: tuple[str, ...]) -> tuple[str, ...]:
    """Return the files that hold a record or FHIR, and say which others are passed over."""
    from woundfhir.intake.source import named, of_others

    others = {name for name in named(inputs) if of_others(name)}
    if others:
        options.note(words("check.skipped", files=count("files", len(others)), names=", ".join(sorted(others))))
    return tuple(name for name in named(inputs) if name not in others)


def _brief(output: Path | None, chosen: dict[str, Any]) -> bool:
    return (output is None and not chosen["show_values"]) if chosen["brief"] is None else bool(chosen["brief"])


def _counting(fail_on: str) -> tuple[Level, ...]:
    """Return the levels of findings for which the exit code is 1."""
    from woundfhir.checklist import LEVELS

    names: tuple[str, ...] = LEVELS
    return () if fail_on == "never" else LEVELS[: names.index(fail_on) + 1]


def _streamed(
    inputs: tuple[str, ...], form: str, output: Path | None, force: bool, many: streamed.Choice, chosen: dict[str, Any]
) -> int | None:
    """Report on each client as they are read; None where the input is read as a whole."""
    from woundfhir.bulk import judging
    from woundfhir.record.dates import given_day

    if not many.wanted(inputs):
        return None
    whole = any(chosen[name] for name in ("patient", "visit", "terminology")) or options.chosen_for_all("dry_run")
    if whole or form not in judging.FORMS:
        if many.needs:
            raise InputError(many.needs, _SERVED, streamed.WHOLE)
        return None
    choice = judging.Choice(
        chosen["policy"],
        chosen["checklists"],
        tuple(ignored_rules(chosen["ignored"]).items()),
        given_day(chosen["today"], "--today"),
        chosen["show_values"],
        chosen["defaults"],
    )
    counting = _counting(chosen["fail_on"])
    colour = form == "text" and output is None and colours()
    work = partial(judging.check, choice=choice, levels=counting, brief=_brief(output, chosen), colour=colour)
    files = [Path(one) for one in (choice.policy, *choice.checklists, choice.defaults) if one and Path(one).exists()]
    kept = repr((choice, counting, chosen["brief"], [resuming.digest(one) for one in files]))
    found = streamed.convert(inputs, form, output, force, many, streamed.Job("checking", work, kept=kept))
    if found is None:
        return None
    asks = bool(counting) and options.exit_code(found, strict=chosen["strict"])
    return int(bool(asks or found.weighs or found.refused))


_SERVED = "--format text or ndjson, without --patient, --visit, --terminology and --dry-run"


def ignored_rules(given: tuple[str, ...]) -> dict[str, str]:
    """Return the rules to leave out, with their reasons, of ``--ignore``."""
    out = {}
    for one in given:
        code, equals, reason = one.partition("=")
        if not equals or not code.strip() or not reason.strip():
            raise InputError("--ignore", "CODE=REASON", "Give the code of a rule and the reason why it is left out")
        out[code.strip()] = reason.strip()
    return out
