"""``woundfhir send``: a client's record to a FHIR server, an amendment as an amendment."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from woundfhir.cli import options

#: Shared by ``send`` and ``fetch``.
SECRETS = """Who is asking, from the environment and never from an argument: WOUNDFHIR_TOKEN (a bearer token) or
    WOUNDFHIR_TOKEN_FILE; or, for SMART Backend Services, WOUNDFHIR_CLIENT_ID with WOUNDFHIR_KEY_FILE (a private key,
    JWK or PEM, P-384 or RSA; WOUNDFHIR_KEY_PASSWORD_FILE if it has a password), WOUNDFHIR_SCOPE and
    WOUNDFHIR_TOKEN_URL where the server does not say it. A hospital's own certificates: SSL_CERT_FILE."""


@click.command(epilog=" ".join(SECRETS.split()))
@options.inputs
@click.option("--to", "url", required=True, metavar="URL", help="Base address of the FHIR server (R4), https.")
@options.patient
@click.option(
    "--policy",
    type=click.Choice(["update", "create", "refuse"]),
    default="update",
    show_default=True,
    help="What is there and says something else: bring it up to date, leave it, or refuse. A client, an organisation, "
    "a practitioner and what others wrote are never written over.",
)
@click.option(
    "--receipt",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Keep in FILE what is stored there; read it first.",
)
@click.option("--withdraw", is_flag=True, help="Whole visits and wounds that left the record: mark them there too.")
@click.option("--chunk", type=click.IntRange(min=1), default=200, show_default=True, help="Resources in one part.")
@click.option("--without", multiple=True, metavar="TYPE", help="Leave resources of this type out (may be given again).")
@click.option(
    "--also",
    multiple=True,
    metavar="TYPE",
    help="Send resources of this type although the server does not say that it stores them (may be given again).",
)
@click.option("--document", is_flag=True, help="Send IN, a document, byte for byte: its signature still holds.")
@click.option("--dry-run", is_flag=True, help="Look only, and say what would be done.")
@click.option("--list", "every", is_flag=True, help="List what became of each resource, also what is unchanged.")
def command(inputs: tuple[str, ...], url: str, patient: str | None, document: bool, **chosen: Any) -> int:
    """Send the record of one client in IN to a FHIR server.

    \b
    woundfhir send notes.yaml --to https://example.org/fhir --dry-run
    woundfhir send notes.yaml --to https://example.org/fhir --receipt notes.receipt.json

    Sending again stores nothing twice, and an amendment arrives as an amendment. With --receipt, what left the record
    since is marked there as entered in error, and what somebody else changed there is not written over.

    Exit code 0: sent. 1: something is refused, or asks a person. 2: could not run; the receipt says what is stored.
    """
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
    for key, words in sent.outcomes:
        if chosen["every"] or words != "unchanged":
            options.tell(f"{_short(key)}: {words}")
    for line in sent.notices:
        options.say(line)
    counts = ", ".join(f"{number} {word}" for word, number in sorted(sent.counts.items()))
    options.note(f"{'Nothing was sent' if chosen['dry_run'] else 'Done'}: {counts}.")
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
        _, words = send_document(server, load(Path(name)))
        options.tell(f"DocumentReference: {words}")
    return 0
