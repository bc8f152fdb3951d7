"""``woundfhir read-text``: a nurse's free text to a proposed note, for a person to confirm."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.errors import InputError


@click.command()
@click.argument("source", metavar="IN")
@click.option("--format", "form", type=click.Choice(("yaml", "json")), default="yaml", show_default=True)
@options.output
def command(source: str, form: str, output: Path | None, force: bool) -> int:
    """Propose a note from the free text in IN, a file or -: one wound at one visit, in English or French."""
    from woundfhir.freetext import read_text
    from woundfhir.freetext.draft import draft, plain
    from woundfhir.texts import tables

    proposal = read_text(_text(source))
    if form == "yaml":
        content = draft(proposal).encode()
    else:
        from woundfhir.r4 import jsonio

        content = jsonio.encode_readable(plain(proposal))
    options.emit(content, output, force)
    texts = tables("woundfhir.freetext")["draft"]
    for alarm in proposal.alarms:
        options.say(texts["hazard"].format(title=alarm.hazard.title, ask=alarm.hazard.ask))
    counts = {name: len(proposal.of(name)) for name in ("certain", "likely", "ask")}
    if not proposal.readings:
        options.say(texts["nothing"])
    options.say(texts["summary"].format(**counts, hazards=len(proposal.alarms), unread=len(proposal.unread)))
    whole = proposal.readings and not (counts["likely"] or counts["ask"] or proposal.alarms or proposal.unread)
    return 0 if whole else 1


def _text(source: str) -> str:
    from woundfhir.limits import SITE_LIMIT, read_whole

    try:
        if source == "-":
            return read_whole(sys.stdin.buffer, SITE_LIMIT).decode("utf-8-sig")
        with Path(source).open("rb") as file:
            return read_whole(file, SITE_LIMIT).decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError(
            source, "a text file", "Check the name and the folder", found="there is no such file"
        ) from None
    except InputError as error:
        raise error.at(source) from None
    except (OSError, ValueError):
        raise InputError(source, "a text in UTF-8 that can be read", "Save it as UTF-8") from None
