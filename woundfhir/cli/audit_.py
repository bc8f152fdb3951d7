"""``woundfhir audit``: the notes of many clients together, in counts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from woundfhir.cli import options
from woundfhir.errors import InputError

if TYPE_CHECKING:
    from woundfhir.audit import Audit

_FORMATS = ("text", "csv", "html", "json")
_CHECKLIST = "standard, transfer, or your own file; may be given again."


@click.command()
@options.inputs
@options.report(*_FORMATS)
@click.option("--svg", type=click.Path(path_type=Path), help="Write the picture to this file too.")
@click.option(
    "--policy", show_default="ontario, or that of --site", metavar="NAME|FILE", help="The numbers to judge by."
)
@click.option("--checklist", "checklists", multiple=True, metavar="NAME|FILE", help=_CHECKLIST)
@options.output
def command(
    inputs: tuple[str, ...],
    form: str | None,
    svg: Path | None,
    policy: str | None,
    checklists: tuple[str, ...],
    output: Path | None,
    force: bool,
) -> int:
    """Count over the notes of many clients: what was found by rule, author, kind of wound and week.

    \b
    woundfhir audit clients/
    woundfhir audit clients/ --format html -o audit.html --svg audit.svg
    woundfhir audit clients/ --format csv -o audit.csv

    A note is complete when it is finished and nothing required is missing, nothing contradicts itself and no safety
    prompt stands. A prompt is answered by an action about its matter that names who was told and when. Files are
    read one by one, each judged by itself, and only counts are kept; nothing of a client stands in the report.

    Exit code 0: every note is complete; 1: findings, or a file that could not be read; 2: could not run.
    """
    from woundfhir.audit import Audit
    from woundfhir.audit.page import as_html
    from woundfhir.audit.picture import picture
    from woundfhir.audit.tables import as_csv, as_json, as_text
    from woundfhir.checklist.policy import load
    from woundfhir.checklist.site import compose

    form = options.form_of(form, output, _FORMATS)
    audit = Audit(compose(checklists), load(policy))
    _count(audit, inputs)
    if not audit.records:
        raise InputError("audit", "at least one record that can be read", "Look at the messages above")
    write = {"text": lambda one: as_text(one).encode(), "csv": as_csv, "html": as_html, "json": as_json}[form]
    outputs = {output or options.STDOUT: write(audit)}
    if svg is not None:
        outputs[svg] = picture(audit)
    options.emit_all(outputs, force)
    total = audit.total
    return 1 if audit.unread or total.complete < total.notes or total.safety or total.look or total.add else 0


def _count(audit: Audit, inputs: tuple[str, ...]) -> None:
    """Take client after client; a file that cannot be read is named and counted, and the next one is taken."""
    from woundfhir.intake.source import histories, opened

    def refused(error: InputError) -> None:
        audit.unread += 1
        options.say(str(error))

    for one in histories(opened(inputs, refused=refused), refused):
        if one.of_client:
            audit.take(one.history)
        else:
            refused(InputError(one.name, "resources that name their client", "They are in none of the counts"))
