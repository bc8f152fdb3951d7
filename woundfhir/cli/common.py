"""What every verb has: ``--site``, ``--lang``, ``--color``, ``--quiet``, ``--verbose``, ``--debug``; short names."""

from __future__ import annotations

import os
import sys
from typing import Any

import click

from woundfhir.cli import options
from woundfhir.cli.help import HelpContext
from woundfhir.cli.net import show_traceback

#: The short name of an option, wherever it has none of its own.
SHORT = {"--format": "-f", "--to": "-t", "--output": "-o"}


def equip(command: click.Command) -> None:
    """Give a verb, or each of its parts, what every verb has; once, also where it is asked for again."""
    command.context_class = HelpContext
    names = {one.name for one in command.params}
    if "lang" not in names:
        options.lang(command)
    if isinstance(command, click.Group):
        for part in command.commands.values():
            equip(part)
        return
    if "site_folder" not in names:
        options.site(command)
    if "color" not in names:
        for one in _options():
            command.params.append(one)
        _shorten(command)


def _shorten(command: click.Command) -> None:
    taken = {name for one in command.params for name in one.opts}
    for one in command.params:
        for name in [name for name in one.opts if name in SHORT and SHORT[name] not in taken]:
            one.opts.insert(0, SHORT[name])


def _options() -> list[click.Option]:
    return [
        _option("--color", type=click.Choice(("auto", "always", "never")), default="auto"),
        _option("-q", "--quiet", is_flag=True),
        _option("-v", "--verbose", is_flag=True),
        _option("--debug", is_flag=True, callback=_debug),
    ]


def _option(*names: str, callback: Any = options.keep, **more: Any) -> click.Option:
    return click.Option(list(names), expose_value=False, callback=callback, **more)


def _debug(_: click.Context, __: click.Parameter, value: bool) -> None:
    if value:
        show_traceback()


def colours() -> bool:
    """Whether standard output takes colours: ``--color``, then NO_COLOR (no-color.org), then FORCE_COLOR.

    ``auto`` says yes on a terminal that is not a dumb one.
    """
    asked = options.chosen_for_all("color", "auto")
    if asked != "auto":
        return bool(asked == "always")
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return sys.stdout.isatty() and os.environ.get("TERM") != "dumb"
