"""``woundfhir audit``: the notes of many clients together, in counts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from woundfhir.cli import options
from woundfhir.errors import InputError
from woundfhir.messages import shown

if TYPE_CHECKING:
    from woundfhir.audit import Audit

_FORMATS = ("text", "csv", "html", "json")


@click.command()
@options.inputs
@options.report(*_FORMATS)
@click.option("--svg", type=click.Path(path_type=Path))
@click.option("--policy", show_default="ontario, or that of --site", metavar="NAME|FILE")
@click.option("--checklist", "checklists", multiple=True, metavar="NAME|FILE")
@options.guard_formulas
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
    """Count over the notes of many clients: what was found by rule, author, kind of wound and week."""
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
        options.say(shown(error))

    for one in histories(opened(inputs, refused=refused), refused):
        if one.of_client:
            audit.take(one.history)
        else:
            refused(InputError(one.name, "resources that name their client", "They are in none of the counts"))
