"""``woundfhir catalogue``: everything that can be charted, one line each."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from woundfhir.catalogue import catalogue, frame
from woundfhir.cli import options


@click.command()
@click.argument("group", required=False, metavar="[GROUP]")
@click.option("--codes", is_flag=True)
@click.option("--json-schema", "schema", is_flag=True)
@options.output
def command(group: str | None, codes: bool, schema: bool, output: Path | None, force: bool) -> None:
    """List the keys of the record, all or of one GROUP: key, shape, label."""
    if schema:
        from woundfhir.r4 import jsonio
        from woundfhir.record.schema import record_schema

        content = jsonio.encode_readable(record_schema())
        options.emit(content, output, force)
        return
    names = dict.fromkeys((*frame().parts, *catalogue().groups))
    if group and group not in names:
        raise click.BadParameter("one of " + ", ".join(names), param_hint="GROUP")
    found = [line for name in ([group] if group else names) for line in _lines(name, codes)]
    options.emit("".join(f"{line}\n" for line in found).encode(), output, force)


def _lines(name: str, codes: bool) -> Iterator[str]:
    part = frame().parts.get(name)
    for key in part.keys.values() if part is not None else ():
        if key.shape != "inline answers":
            yield f"{key.path:<44} {key.shape:<12} {key.label}"
    for concept in catalogue().groups.get(name, {}).values():
        for one in (concept, *concept.fields.values()):
            line = f"{one.path:<44} {one.shape:<12} {one.label}"
            if codes and one.codings:
                line += "  [" + ", ".join(f"{c.system.rsplit('/', 1)[-1]} {c.code}" for c in one.codings) + "]"
            yield line
