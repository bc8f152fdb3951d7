"""``woundfhir receive``: take in a bundle: verify, compare with what is known, merge, keep what came."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from woundfhir.cli import options, received
from woundfhir.cli.received_into import known_in, refuse_another, store, used_before
from woundfhir.cli.terms_option import look_up, terminology

if TYPE_CHECKING:
    from woundfhir.handover.received import Received
    from woundfhir.jose.keys import Key

_FILE = click.Path(path_type=Path)


@click.command()
@options.maps
@click.argument("source", metavar="IN")
@click.option("--into", type=_FILE)
@click.option("--known")
@click.option("--verify-key", type=_FILE)
@click.option("--key", type=_FILE)
@options.password
@click.option("--accept-unsigned", is_flag=True)
@options.patient
@options.same_client
@click.option("--at")
@click.option("--keep-whole", is_flag=True)
@click.option("--show-values", is_flag=True)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@options.strict
@terminology
@options.force
def command(source: str, into: Path | None, form: str, strict: bool, terminology: str | None, **chosen: Any) -> int:
    """Take in the record of one client: verify it, show what it brings, join it to what is known."""
    done, name, written = _taken_in(source, into, chosen)
    if form == "json":
        click.echo(received.as_json(done, chosen["show_values"], [] if options.chosen_for_all("dry_run") else written))
    else:
        for line in received.as_text(done, name, chosen["show_values"], into, written):
            options.tell(line)
    look_up(terminology, [done.report])
    gaps = strict and bool(done.missing)
    return options.exit_code(done, strict=strict, more=bool(done.merged.conflicts) or gaps)


def _taken_in(source: str, into: Path | None, chosen: dict[str, Any]) -> tuple[Received, str, list[Path]]:
    """Receive, and write into a folder where one is named; return also the name of what came, and what was written."""
    from woundfhir.handover.kept import with_step
    from woundfhir.handover.receive import receive
    from woundfhir.intake.choosing import chosen as of_client
    from woundfhir.intake.client_folder import INDEX
    from woundfhir.intake.inputs import Input
    from woundfhir.intake.source import contents, load
    from woundfhir.storage import locked

    files = list(contents([source]))
    name, content = files[0] if len(files) == 1 else (source, files)
    patient = chosen["patient"]
    of_both = ("at", "accept_unsigned", "same_client", "patient", "keep_whole")
    given = {**{key: chosen[key] for key in of_both}, **_keys(chosen)}
    beside = _signature_beside(name) if source != "-" and len(files) == 1 else None
    with nullcontext() if into is None else locked(into):  # nobody else changes the record between reading and writing
        there = known_in(chosen["known"], into, patient)
        done = receive(content, there.history, name=name, beside=beside, **given)
        if patient is not None and not there.of_several and not done.of_several:
            of_client([Input(name, done.came, "record")], patient)  # refuses where the one who came is somebody else
        if into is None:
            return done, name, []
        if not there.is_own:
            refuse_another(into, done)
        done.merged.conflicts += used_before(done, into)
        index = load(into / INDEX) if (into / INDEX).exists() else None
        files_of = with_step(done, index, there.content, chosen["at"])
        return done, name, store(files_of, into, there.is_own or chosen["force"])


def _keys(chosen: dict[str, Any]) -> dict[str, Key | None]:
    """Return the key by which a signature is verified, and the one that opens what is encrypted."""
    theirs, ours = chosen["verify_key"], chosen["key"]
    return {
        "verify_key": None if theirs is None else options.key(theirs),
        "key": None if ours is None else options.key(ours, chosen["password_file"]),
    }


def _signature_beside(name: str) -> bytes | None:
    """Return the signature that stands in a file beside the one that came."""
    from woundfhir.intake.source import load
    from woundfhir.jose.signature import SUFFIX

    path = Path(f"{name}{SUFFIX}")
    return load(path) if path.is_file() else None
