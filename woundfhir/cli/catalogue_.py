"""``woundfhir catalogue``: everything that can be charted, one line each."""

from __future__ import annotations

import click

from woundfhir.catalogue import catalogue


@click.command()
@click.argument("group", required=False)
@click.option("--codes", is_flag=True, help="Show the codes too.")
def command(group: str | None, codes: bool) -> None:
    """List the concepts of the record, all or of one GROUP: key, shape, label."""
    known = catalogue()
    groups = [group] if group else list(known.groups)
    if group and group not in known.groups:
        raise click.BadParameter("one of " + ", ".join(known.groups), param_hint="GROUP")
    for name in groups:
        for concept in known.groups[name].values():
            for one in (concept, *concept.fields.values()):
                line = f"{one.path:<44} {one.shape:<9} {one.label}"
                if codes and one.codings:
                    line += "  [" + ", ".join(f"{c.system.rsplit('/', 1)[-1]} {c.code}" for c in one.codings) + "]"
                click.echo(line)
