"""``woundfhir convert``: records and FHIR resources into each other, nothing lost."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.errors import InputError
from woundfhir.output import FORMS


@click.command()
@options.inputs
@click.option("--to", "form", required=True, type=click.Choice(FORMS), help="The form to write.")
@options.output
def command(inputs: tuple[str, ...], form: str, output: Path | None, force: bool) -> None:
    """Read IN (a record or FHIR resources, recognised by content) and write it in another form.

    Several inputs need NDJSON, or a folder given with -o. What has no place in the record is listed on
    standard error and kept under 'extra'.
    """
    from woundfhir.intake.source import read_all
    from woundfhir.output import render

    found = read_all(inputs)
    for one in found:
        options.tell_losses(one.name, one.losses)
    if len(found) == 1:
        options.emit(render(found[0].history, form), output, force)
    elif form == "ndjson":
        options.emit(b"".join(render(one.history, form) for one in found), output, force)
    elif output is not None and output.is_dir():
        for one in found:
            options.emit(render(one.history, form), output / (Path(one.name).stem + _SUFFIX[form]), force)
    else:
        raise InputError("-o", "a folder that exists, for several inputs", "Make the folder and name it with -o")


_SUFFIX = {
    "record": ".yaml",
    "record-json": ".json",
    "csv": ".csv",
    "fhir-json": ".fhir.json",
    "fhir-xml": ".fhir.xml",
    "ndjson": ".ndjson",
}
