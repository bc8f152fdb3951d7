"""``woundfhir config``: which settings hold, and where they stand."""

from __future__ import annotations

import json

import click

from woundfhir.cli import options, settings
from woundfhir.cli.texts import words


@click.command()
@click.option("--format", "form", type=click.Choice(("text", "json")), default="text", show_default=True)
def command(form: str) -> None:
    """Show the settings that hold here, and where each stands."""
    from woundfhir.cli import VERBS, cli

    found = list(settings.settings(VERBS))
    for verb in {one.verb for one in found if one.verb}:
        made = cli.get_command(click.get_current_context(), verb)
        assert made is not None
        settings.defaults(verb, made, VERBS)  # names what the verb does not have
    if form == "json":
        click.echo(json.dumps([one._asdict() for one in found], indent=2, default=str))
        return
    for one in found:
        options.tell(f"{one.verb + ' ' if one.verb else ''}--{one.option} {one.value}    {one.where}")
    if not found:
        options.tell(words("config.none"))
