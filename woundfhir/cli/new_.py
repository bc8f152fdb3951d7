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
@click.option("--kind", help="The kind of wound, as 'venous leg ulcer'; with RECORD that of the record.")
@click.option("--site", help="Where it is, as 'lower leg'.")
@click.option("--purpose", type=click.Choice(_PURPOSES), default=_PURPOSES[0], show_default=True, help="The visit's.")
@options.patient
@click.option("--wound", metavar="ID", help="The wound of the record, where it has several open ones.")
@click.option(
    "--schema", metavar="FILE", help="Name this JSON Schema to editors (`woundfhir catalogue --json-schema`)."
)
@click.option("--defaults", metavar="FILE", help="TOML with setting, measure_method, measure_axis, exudate_scale.")
@partial(options.site, name="--site-folder")  # --site names where the wound is
@options.output
def command(record: str | None, output: Path | None, force: bool, **chosen: str | None) -> int:
    """Write a new note to fill in: YAML, each line with its question, nothing that this visit does not ask.

    \b
    woundfhir new --kind "skin tear" --site forearm -o note.yaml
    woundfhir new clients/c-0417.yaml --wound W1 -o note.yaml
    woundfhir new --kind burn --purpose "first assessment" -o note.yaml

    With RECORD the stable facts of the last notes are carried and marked; what must be seen anew (signs of infection,
    counts, pain, size) is never filled in. How much packing went in last time stands beside its line.

    Exit code 0: written; 2: could not run.
    """
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
