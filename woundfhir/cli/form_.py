"""``woundfhir form``: the form of a visit, empty, or filled from a record."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.errors import InputError


@click.command()
@options.maps
@click.argument("record", metavar="[IN]", required=False)
@click.option("--visit")
@click.option("--wound")
@options.patient
@options.output
def command(
    record: str | None, visit: str | None, wound: str | None, patient: str | None, output: Path | None, force: bool
) -> None:
    """Write the FHIR Questionnaire of a visit; with IN, --visit and --wound the QuestionnaireResponse of that note."""
    from woundfhir.fhir import form, form_items
    from woundfhir.intake.choosing import one_client
    from woundfhir.intake.source import read_all
    from woundfhir.output import render_resource
    from woundfhir.package import definitions

    if record is None:
        options.emit(definitions()[f"Questionnaire-{form_items.NAME}.json"], output, force)
        return
    if visit is None or wound is None:
        raise InputError("--visit and --wound", "the ids of a visit and of a wound seen at it", "Name both")
    found = one_client(read_all([record]), patient)
    options.emit(render_resource(form.write_response(found.history, visit, wound)), output, force)
