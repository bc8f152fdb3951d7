"""``woundfhir new``: a note to fill in, with just what this visit asks."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from woundfhir.cli import options

_PURPOSES = ("dressing change", "full assessment", "first assessment")


@click.command()
@options.maps
@click.argument("record", required=False, metavar="[RECORD]")
@click.option("--kind")
@click.option("--site")
@click.option("--purpose", type=click.Choice(_PURPOSES), default=_PURPOSES[0], show_default=True)
@options.patient
@click.option("--wound", metavar="ID")
@click.option("--schema", metavar="FILE")
@click.option("--defaults", metavar="FILE")
@partial(options.site, name="--site-folder")  # --site names where the wound is
@options.output
def command(record: str | None, output: Path | None, force: bool, **chosen: str | None) -> int:
    """Write a new note to fill in: YAML, each line with its question, nothing that this visit does not ask."""
    from woundfhir.catalogue import catalogue
    from woundfhir.newnote import carry, new_note
    from woundfhir.newnote.defaults import with_defaults

    carried = None
    if record is not None:
        from woundfhir.intake.choosing import one_client
        from woundfhir.intake.source import read_all

        found = one_client(read_all((record,)), chosen["patient"], record)
        options.tell_losses(found.name, found.losses, found.report)
        carried = carry(found.history, chosen["wound"])
    site = catalogue().site
    for defaults in (chosen["defaults"], site.defaults if site is not None else None):
        if defaults is not None:
            carried = with_defaults(carried, defaults)
    text = new_note(
        chosen["kind"], str(chosen["purpose"]), site=chosen["site"], carried=carried, schema=chosen["schema"]
    )
    options.emit(text.encode(), output, force)
    return 0
