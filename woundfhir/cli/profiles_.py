"""``woundfhir profiles``: the FHIR definitions of everything we write, as files or as one package."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.cli.texts import count, words


@click.command()
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@click.option("--package", type=click.Path(path_type=Path))
@options.force
def command(folder: Path | None, package: Path | None, force: bool) -> None:
    """Write the profiles, extensions, value sets, code system, maps and form into DIR, or list them."""
    from woundfhir.package import definitions, package_bytes

    if folder is None and package is None:
        for name in definitions():
            click.echo(name)
        return
    files = {} if folder is None else {folder / name: content for name, content in definitions().items()}
    if package is not None:
        files[package] = package_bytes()
    written = options.emit_all(files, force, same=True)
    if not options.chosen_for_all("dry_run"):
        options.note(words("profiles.files", files=count("files", len(files)), written=len(written)))
