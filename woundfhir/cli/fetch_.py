"""``woundfhir fetch``: a client's record, or those of many, from a FHIR server."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from woundfhir.cli import options
from woundfhir.cli.texts import count, words
from woundfhir.errors import InputError
from woundfhir.extras import need
from woundfhir.messages import translated

if TYPE_CHECKING:
    from woundfhir.intake.inputs import Input
    from woundfhir.server.connection import Connection


@click.command()
@click.argument("url")
@click.option("--patient", "who", multiple=True, metavar="SYSTEM|VALUE")
@click.option("--export", "level", metavar="LEVEL")
@click.option("--since", metavar="INSTANT")
@click.option("--page", type=click.IntRange(min=1), default=200, show_default=True)
@click.option("--wait", type=click.IntRange(min=1), default=3600, show_default=True)
@click.option("--sent", type=click.Path(path_type=Path), metavar="IN")
@click.option("--documents", type=click.Path(path_type=Path), metavar="FOLDER")
@options.strict
@options.to("convert")
@options.output
def command(
    url: str, who: tuple[str, ...], strict: bool, to: str | None, output: Path | None, force: bool, **chosen: Any
) -> int:
    """Fetch the record of a client, or of many, from the FHIR server at URL."""
    need("server", "fetch")
    from woundfhir.intake import formats
    from woundfhir.server.auth import from_environment
    from woundfhir.server.connection import Connection, base_of
    from woundfhir.server.documents import fetch_documents

    _check(who, chosen)
    form = formats.chosen(to, output) or formats.named("record")
    if (len(who) > 1 or chosen["level"]) and not form.joins:
        raise InputError("--to", "a format that holds several clients (csv, ndjson, record-ndjson)", "Choose one")
    server = Connection(base_of(url), say=options.say)
    server.authorization = from_environment(server)
    folder: Path | None = chosen["documents"]
    try:
        found, notices = _exported(server, who, chosen) if chosen["level"] else _each(server, who, chosen)
        letters = [fetch_documents(server, one) for one in who] if folder else []
    finally:
        server.close()
    for one in found:
        options.tell_losses(one.name, one.losses, one.report)
    for line in notices:
        options.say(translated(line))
    many = len(found) > 1 or chosen["level"]
    content = form.write_many([one.history for one in found]) if many else form.write(found[0].history)
    beside = {folder / name: letter for some in letters for name, letter in some.items()} if folder else {}
    options.emit_all({**beside, output or options.STDOUT: content}, force)
    return options.exit_code(*found, strict=strict, more=bool(notices))


def _check(who: tuple[str, ...], chosen: dict[str, Any]) -> None:
    """Refuse what does not fit together, before anything is asked."""
    if not who and not chosen["level"]:
        raise InputError("fetch", "a client", "Add --patient SYSTEM|VALUE, or --export Patient for all of them")
    if chosen["sent"] is not None and (len(who) != 1 or chosen["level"]):
        raise InputError("--sent", "one client, named with --patient", "Fetch the client alone")
    if chosen["documents"] is not None and not who:
        raise InputError("--documents", "clients, named with --patient", "Name them")


def _each(server: Connection, who: tuple[str, ...], chosen: dict[str, Any]) -> tuple[list[Input], list[str]]:
    """Fetch client by client; with ``--sent``, hold what came against the record that was sent."""
    from woundfhir.server.bookkeeping import kept_out
    from woundfhir.server.fetching import deleted, everything, taken
    from woundfhir.server.removed import removed_since

    found: list[Input] = []
    notices: list[str] = []
    for one in who:
        came = everything(server, one, since=chosen["since"], count=chosen["page"])
        if chosen["sent"] is not None:
            more, lines = _held_against(chosen["sent"], came, server)
            came, notices = [*came, *more], lines
        elif chosen["since"] is None:  # else what did not come may be what has not changed
            notices += deleted(server, came)
        else:
            client = next(one for one in came if one["resourceType"] == "Patient")
            notices += removed_since(server, f"Patient/{client['id']}", chosen["since"], count=chosen["page"])
        if own := kept_out(came):
            options.say(words("fetch.own", own=own))
        found.append(taken(came, server.base))
    return found, notices


def _held_against(path: Path, came: list[Any], server: Connection) -> tuple[list[Any], list[str]]:
    from woundfhir.intake.choosing import one_client
    from woundfhir.intake.source import read_all
    from woundfhir.server.comparing import held_against

    return held_against(one_client(read_all([path]), None).history, came, server)


def _exported(server: Connection, who: tuple[str, ...], chosen: dict[str, Any]) -> tuple[list[Input], list[str]]:
    from woundfhir.server.export import clients, export

    came = export(server, chosen["level"], since=chosen["since"], patience=chosen["wait"])
    found = clients(server, came, who)
    options.say(
        words("fetch.came", resources=count("resources", len(came.resources)), clients=count("clients", len(found)))
    )
    return found, came.notices
