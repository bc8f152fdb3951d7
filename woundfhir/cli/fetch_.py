"""``woundfhir fetch``: a client's record from a FHIR server."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.cli.send_ import SECRETS
from woundfhir.errors import InputError


@click.command(epilog=" ".join(SECRETS.split()))
@click.argument("url")
@click.option(
    "--patient",
    "who",
    required=True,
    multiple=True,
    metavar="SYSTEM|VALUE",
    help="An identifier of the client; several times for several clients, who stay apart.",
)
@click.option("--since", metavar="INSTANT", help="Only what the server has changed since (_lastUpdated).")
@click.option("--page", type=click.IntRange(min=1), default=200, show_default=True, help="Resources on one page.")
@click.option(
    "--documents", type=click.Path(path_type=Path), metavar="FOLDER", help="Write the documents that were sent, too."
)
@options.strict
@options.to("convert", "the ending of the file that -o names, else record")
@options.output
def command(
    url: str,
    who: tuple[str, ...],
    since: str | None,
    page: int,
    documents: Path | None,
    strict: bool,
    to: str | None,
    output: Path | None,
    force: bool,
) -> int:
    """Fetch the record of a client from the FHIR server at URL.

    All pages are read; what belongs to another client, or leads to another host, is refused. What the server keeps for
    itself (ids, versions) stays out of the record.

    Exit code 0: fetched. 1: something that came is no fact or contradicts. 2: could not run, and nothing was written.
    """
    from woundfhir.intake import formats
    from woundfhir.server.auth import from_environment
    from woundfhir.server.connection import Connection, base_of
    from woundfhir.server.documents import fetch_documents
    from woundfhir.server.fetching import fetch

    form = formats.chosen(to, output) or formats.named("record")
    if len(who) > 1 and not form.joins:
        raise InputError("--to", "a format that holds several clients (csv, ndjson, record-ndjson)", "Choose one")
    server = Connection(base_of(url), say=options.say)
    server.authorization = from_environment(server)
    try:
        found = [fetch(server, one, since=since, count=page) for one in who]
        letters = [fetch_documents(server, one) for one in who] if documents else []
    finally:
        server.close()
    for one in found:
        options.tell_losses(one.name, one.losses, one.report)
    content = form.write(found[0].history) if len(found) == 1 else form.write_many([one.history for one in found])
    beside = {documents / name: letter for some in letters for name, letter in some.items()} if documents else {}
    options.emit_all({**beside, output or options.STDOUT: content}, force)
    return options.exit_code(*found, strict=strict)
