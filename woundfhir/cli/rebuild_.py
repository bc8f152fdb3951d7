"""``woundfhir rebuild``: the record of a client's folder, made again of what was received."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.cli.texts import words

_FILE = click.Path(path_type=Path)


@click.command()
@options.maps
@click.argument("folder", metavar="FOLDER", type=_FILE)
@click.option("--key", type=_FILE)
@options.password
@options.output
def command(folder: Path, key: Path | None, password_file: Path | None, output: Path | None, force: bool) -> int:
    """Make the record in FOLDER (see `woundfhir receive --into`) again of the bytes that were received."""
    from woundfhir.handover.kept import rebuild
    from woundfhir.intake.client_folder import INDEX, RECORD
    from woundfhir.intake.source import load
    from woundfhir.record.files import to_yaml
    from woundfhir.storage import locked

    own = None if key is None else options.key(key, password_file)
    load(folder / INDEX)  # refuses where there is no such folder, before it is locked
    with locked(folder):
        content = to_yaml(rebuild(lambda name: load(folder / name), own))
        there = load(folder / RECORD) if (folder / RECORD).exists() else None
    options.emit(content, output, force)
    if there == content:
        options.note(words("rebuild.same"))
        return 0
    options.say(words("rebuild.missing" if there is None else "rebuild.other"))
    return 1
