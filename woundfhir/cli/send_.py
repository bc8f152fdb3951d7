"""``woundfhir send``: a client's record to a FHIR server, an amendment as an amendment."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from woundfhir.cli import options
from woundfhir.cli.texts import words
from woundfhir.extras import need
from woundfhir.messages import translated


@click.command()
@options.inputs
@click.option("--to", "url", required=True, metavar="URL")
@options.patient
@click.option("--policy", type=click.Choice(["update", "create", "refuse"]), default="update", show_default=True)
@click.option("--receipt", type=click.Path(path_type=Path), metavar="FILE")
@click.option("--withdraw", is_flag=True)
@click.option("--chunk", type=click.IntRange(min=1), default=200, show_default=True)
@click.option("--without", multiple=True, metavar="TYPE")
@click.option("--also", multiple=True, metavar="TYPE")
@click.option("--document", is_flag=True)
@click.option("--dry-run", is_flag=True)
@click.option("--list", "every", is_flag=True)
def command(inputs: tuple[str, ...], url: str, patient: str | None, document: bool, **chosen: Any) -> int:
    """Send the record of one client in IN to a FHIR server."""
    need("server", "send")
    from woundfhir.server.auth import from_environment
    from woundfhir.server.connection import Connection, base_of

    server = Connection(base_of(url), say=options.say)
    server.authorization = from_environment(server)
    try:
        return _document(server, inputs) if document else _record(server, inputs, patient, chosen)
    finally:
        server.close()


def _record(server: Any, inputs: tuple[str, ...], patient: str | None, chosen: dict[str, Any]) -> int:
    from woundfhir.intake.choosing import one_client
    from woundfhir.intake.source import read_all
    from woundfhir.server.receipt import read
    from woundfhir.server.sending import send

    found = one_client(read_all(inputs), patient)
    options.tell_losses(found.name, found.losses, found.report)
    receipt = read(chosen["receipt"], server.base)
    sent = send(
        found.history,
        server,
        receipt,
        policy=chosen["policy"],
        chunk=chosen["chunk"],
        dry_run=chosen["dry_run"],
        withdraw=chosen["withdraw"],
        without=chosen["without"],
        also=chosen["also"],
    )
    for key, outcome in sent.outcomes:
        if chosen["every"] or outcome != "unchanged":
            options.tell(words("send.became", what=_short(key), words=translated(outcome)))
    for line in sent.notices:
        options.say(translated(line))
    counts = ", ".join(f"{number} {translated(word)}" for word, number in sorted(sent.counts.items()))
    options.note(words("send.nothing" if chosen["dry_run"] else "send.done", counts=counts))
    return options.exit_code(found, more=sent.asks)


def _short(key: str) -> str:
    """A key without the identifier of a client: type, and the place in the record where it names one."""
    kind, _, named = key.partition("?identifier=")
    system, _, value = named.rpartition("|")
    return f"{kind} {value}" if system.startswith("urn:uuid:") else kind


def _document(server: Any, inputs: tuple[str, ...]) -> int:
    from woundfhir.intake.source import load
    from woundfhir.server.documents import send_document

    for name in inputs:
        _, outcome = send_document(server, load(Path(name)))
        options.tell(words("send.became", what="DocumentReference", words=translated(outcome)))
    return 0
