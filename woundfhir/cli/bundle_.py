"""``woundfhir bundle``: a client's wound history as one FHIR Bundle."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.errors import InputError


@click.command()
@options.inputs
@click.option("--as", "kind", type=click.Choice(["document", "transaction", "collection"]), default="document", show_default=True)
@click.option("--patient", help="Identifier of the client, where the inputs hold several.")
@click.option("--wound", "wounds", multiple=True, help="Only this wound (may be given again).")
@click.option("--since", help="Only visits from this date on.")
@click.option("--newest", type=click.IntRange(min=1), help="Only the newest N visits.")
@click.option("--document", type=click.Choice(["transfer", "nurse"]), default="transfer", show_default=True, help="Transfer summary, or nurse transfer note.")
@click.option("--replaces", metavar="URN", help="Identifier of an earlier document that this one replaces.")
@click.option("--sheet", type=click.Path(path_type=Path), help="Write the sheet to print too: FILE.html or FILE.pdf.")
@click.option("--at", help="The instant the bundle carries; default: the newest time in the record.")
@click.option("--form", type=click.Choice(["fhir-json", "fhir-xml"]), default="fhir-json", show_default=True)
@options.output
@options.canonical
def command(
    inputs: tuple[str, ...],
    kind: str,
    patient: str | None,
    wounds: tuple[str, ...],
    since: str | None,
    newest: int | None,
    document: str,
    replaces: str | None,
    sheet: Path | None,
    at: str | None,
    form: str,
    output: Path | None,
    force: bool,
    base: str,
) -> None:
    """Bundle the wound history of one client in IN."""
    from woundfhir.handover import bundle
    from woundfhir.handover.gather import gather
    from woundfhir.output import render_resource
    from woundfhir.source import read_all

    found = read_all(inputs, base=base)
    if patient is not None:
        found = [one for one in found if any(i.get("value") == patient for i in one.history.patient.get("identifiers", ()))]
    if len(found) != 1:
        raise InputError("IN", "the record of one client", "Name one file, or choose the client with --patient")
    options.tell_losses(found[0].name, found[0].losses)
    part = gather(found[0].history, wounds=wounds, since=since, newest=newest)
    options_of = {"document": document, "replaces": replaces} if kind == "document" else {}
    made = bundle(part, kind, base=base, at=at, **options_of)  # type: ignore[arg-type]
    options.emit(render_resource(made, form), output, force)
    click.echo(f"{kind}: {len(made['entry'])} entries, {len(part.wounds)} wounds, {len(part.visits)} visits.", err=True)
