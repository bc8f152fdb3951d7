"""``woundfhir completion``: the verbs and options, completed by a shell."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class

_SHELLS = ("bash", "zsh", "fish")


@click.command()
@click.argument("shell", type=click.Choice(_SHELLS))
def command(shell: str) -> None:
    """Write the script by which a shell completes verbs, options and their values."""
    from woundfhir.cli import cli

    found = get_completion_class(shell)
    assert found is not None
    script = found(cli, {}, "woundfhir", "_WOUNDFHIR_COMPLETE").source()
    # click's script for fish cuts a line of help at its first comma.
    click.echo(script.replace('(string split "," $completion)', '(string split -m 1 "," $completion)'))
