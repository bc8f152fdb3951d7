"""What every verb has: ``--site``, ``--lang``, ``--color``, ``--quiet``, ``--verbose``, ``--debug``; short names."""

from __future__ import annotations

import os
import platform
import sys
from collections.abc import Iterator
from typing import Any

import click

from woundfhir._version import __version__
from woundfhir.cli import options, settings
from woundfhir.cli.completing import complete
from woundfhir.cli.help import HelpContext
from woundfhir.cli.net import show_traceback
from woundfhir.cli.texts import words
from woundfhir.language import spoken

#: The short name of an option, wherever it has none of its own.
SHORT = {"--format": "-f", "--to": "-t", "--output": "-o"}


def equip(command: click.Command) -> None:
    """Give a verb, or each of its parts, what every verb has; once, also where it is asked for again."""
    command.context_class = VerbContext
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
    complete(command)


def _shorten(command: click.Command) -> None:
    taken = {name for one in command.params for name in one.opts}
    for one in command.params:
        for name in [name for name in one.opts if name in SHORT and SHORT[name] not in taken]:
            one.opts.insert(0, SHORT[name])


class VerbContext(HelpContext):
    """The context of a verb, which with ``--verbose`` says what holds before the verb runs."""

    def invoke(self, *args: Any, **more: Any) -> Any:
        """Run the verb."""
        if args[:1] == (self.command.callback,) and options.chosen_for_all("verbose"):
            for line in _held(self):
                options.note(line)
        return super().invoke(*args, **more)


def _held(ctx: click.Context) -> Iterator[str]:
    """Yield versions and language, and what decides how the verb reads and judges; no value of a client."""
    from importlib.metadata import version

    from woundfhir.record.frame_leaves import VERSION

    versions = {"python": platform.python_version(), "fhir": version("fhir.resources"), "record": VERSION}
    yield words("held.versions", own=__version__, language=spoken().tag, **versions)
    for key, name in (("site", "site_folder"), ("map", "map")):
        if (found := options.chosen_for_all(name)) is not None:
            yield words(f"held.{key}", value=", ".join(map(str, found)) if isinstance(found, tuple) else found)
    if policy := ctx.params.get("policy"):
        yield words("held.policy", value=policy)
    root, verb = ctx.find_root(), ctx.command_path.split()[1]
    verbs = root.command.list_commands(root) if isinstance(root.command, click.Group) else [verb]
    for one in settings.settings(dict.fromkeys(verbs)):
        if one.verb in ("", verb):
            yield words("held.setting", option=one.option, value=one.value, where=one.where)


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
