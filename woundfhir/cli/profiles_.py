"""``woundfhir profiles``: the FHIR definitions of everything we write, as files or as one package."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.errors import InputError


@click.command()
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@click.option(
    "--package", type=click.Path(path_type=Path), help="Write the FHIR package (FILE.tgz), the same bytes each time."
)
@click.option("--force", is_flag=True, help="Write over files that exist.")
def command(folder: Path | None, package: Path | None, force: bool) -> None:
    """Write the profiles, extensions, value sets, code system, maps and form into DIR, or list them."""
    from woundfhir.output import save
    from woundfhir.package import definitions, package_bytes

    if folder is None and package is None:
        for name in definitions():
            click.echo(name)
        return
    if folder is not None:
        _write(folder, definitions(), force)
    if package is not None:
        content = package_bytes()
        save(content, package, force=force)
        click.echo(f"Wrote {package} ({len(content):,} bytes).", err=True)


def _write(folder: Path, files: dict[str, bytes], force: bool) -> None:
    """Write all files, or none where one of the names is taken by something else."""
    from woundfhir.output import save

    for name, content in files.items():
        path = folder / name
        if path.exists() and not force and path.read_bytes() != content:
            raise InputError(str(path), "a name that is not taken", "Name another folder, or add --force")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(str(folder), "a folder that can be made", f"The system says: {error.strerror}") from None
    for name, content in files.items():
        save(content, folder / name, force=True)
    click.echo(f"Wrote {len(files)} files into {folder}.", err=True)
