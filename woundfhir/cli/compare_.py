"""``woundfhir compare``: what differs clinically between two records or bundles, in words."""

from __future__ import annotations

import json

import click

from woundfhir.cli import options
from woundfhir.cli.texts import words


@click.command()
@options.maps
@click.argument("a", metavar="A")
@click.argument("b", metavar="B")
@click.option("--show-values", is_flag=True)
@options.patient
@options.same_client
@options.strict
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
def command(a: str, b: str, show_values: bool, patient: str | None, same_client: bool, form: str, strict: bool) -> int:
    """Say what differs between two records or bundles A and B of one client."""
    from woundfhir.handover.compare import compare
    from woundfhir.intake.choosing import one_client
    from woundfhir.intake.source import read_all
    from woundfhir.record.clients import refuse_two

    sides = (("A", read_all([a])), ("B", read_all([b])))
    came = [one_client(side, patient if len(side) > 1 else None, name) for name, side in sides]
    for found in came:
        options.tell_losses(found.name, found.losses, found.report)
    one, other = (found.history for found in came)
    if not same_client and one != other:
        refuse_two(one.patient, other.patient, "A and B")
    differences = compare(one, other)
    if form == "json":
        rows = [d.json(show_values=show_values) for d in differences]
        clinical = sum(d.clinical for d in differences)
        counted = {"differs": clinical, "written_differently": len(rows) - clinical}
        click.echo(json.dumps({"version": 1, "differences": rows, "summary": counted}, ensure_ascii=False, indent=2))
    else:
        for difference in differences:
            options.tell(difference.line(show_values=show_values))
        if not differences:
            click.echo(words("compare.none"))
    return options.exit_code(*came, strict=strict, more=any(difference.clinical for difference in differences))
