"""What ``--help`` says: texts as data, one folder a language, put into a verb when it is shown.

``texts/<language>/verbs.toml`` has a table for each verb: its ``line`` in the list of verbs, its ``text`` (after the
mark ``\\b`` come lines that are printed as they stand: examples), and what stands under the options (``epilog``).
``options.toml`` has the text of each option under its verb, by its long name, or under ``every`` where several verbs
say the same; ``shown.toml`` what is shown instead of a default, and the words that stand for a value (``FILE``). An
option is declared without ``help=``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from copy import copy
from typing import Any, TypeVar

import click

from woundfhir.language import ENGLISH, spoken

_P = TypeVar("_P", bound=click.Parameter)
#: The name of the command itself in the texts.
ROOT = "woundfhir"
_WORD = re.compile("[A-Za-z]+")


class HelpContext(click.Context):
    """The context of a verb, which shows its help in the language that holds."""

    def get_help(self) -> str:
        """Return the help of the verb."""
        self._put_texts()
        return super().get_help()

    def get_usage(self) -> str:
        """Return the line that says how the verb is called."""
        if spoken() is not ENGLISH:
            self._put_texts()
        return super().get_usage()

    def _put_texts(self) -> None:
        self.command = texted(self.command, _verb(self), self)


def texted(command: click.Command, verb: str, ctx: click.Context) -> click.Command:
    """Return a verb with its texts in the language that holds; the verb itself is not changed."""
    page, made = page_of(verb), copy(command)
    made.help, made.short_help = page.get("text"), page.get("line")
    made.epilog = "\n\n".join(part for part in (page.get("epilog"), pointer(verb)) if part)
    made.params = [_texted(one, verb) for one in command.params]
    if (asked := command.get_help_option(ctx)) is not None:
        shown = _texted(asked, verb)
        made.get_help_option = lambda ctx: shown  # type: ignore[method-assign]
    made.options_metavar = word(command.options_metavar or "")
    if isinstance(made, click.Group):
        made.subcommand_metavar = word(made.subcommand_metavar or "")
        made.commands = {name: texted(one, f"{verb} {name}", ctx) for name, one in made.commands.items()}
    return made


def page_of(verb: str) -> dict[str, str]:
    """Return what the help of a verb says beside its options."""
    found = _texts()
    return {
        key: text.replace("{secrets}", found["shared"]["secrets"]) for key, text in found["verbs"].get(verb, {}).items()
    }


def short_help() -> str:
    """Return what the command says when it is called without anything: what it is for, examples, where there is more.

    Examples
    --------
    >>> short_help().splitlines()[2]
    '  woundfhir demo                                   an invented story to try everything on'
    """
    what, examples = page_of(ROOT)["text"].strip().split("\n\n")[:2]
    lines = [*examples.removeprefix("\b\n").splitlines(), "", *page_of(ROOT)["short"].strip().splitlines()]
    return "\n".join((what, "", *(f"  {line}".rstrip() for line in lines)))


def pointer(verb: str) -> str:
    """Return where the guide says more about a verb.

    Examples
    --------
    >>> pointer("map propose")
    'Guide: woundfhir guide map'
    """
    topic = "" if verb == ROOT else f" {verb.split()[0]}"
    return str(_texts()["shared"]["guide"].format(command=f"woundfhir guide{topic}"))


def help_of(ctx: click.Context) -> str:
    """Return the text of the verb of a context, its examples in it."""
    return page_of(_verb(ctx)).get("text", "")


def option_text(option: click.Option, verb: str) -> str:
    """Return the text of an option of a verb; empty where there is none."""
    text = _of("options", option, verb)
    return text.replace("{formats}", _formats(option)) if "{formats}" in text else text


def key_of(option: click.Option) -> str:
    """Return the key of an option: its first long name, without dashes."""
    return next(name for name in option.opts if name.startswith("--")).removeprefix("--")


def word(metavar: str) -> str:
    """Return what stands for a value, as ``FILE``, in the language that holds.

    Examples
    --------
    >>> from woundfhir.language import speaking
    >>> with speaking("fr"):
    ...     word("[FILE|FOLDER]")
    '[FICHIER|RÉPERTOIRE]'
    """
    known: Mapping[str, str] = _texts()["metavars"]
    return _WORD.sub(lambda found: known.get(found[0], found[0]), metavar)


def _texted(param: _P, verb: str) -> _P:
    made = copy(param)
    if made.metavar is not None:
        made.metavar = word(made.metavar)
    if isinstance(made, click.Option):
        made.help = option_text(made, verb) or made.help
        if made.metavar is None and not made.is_flag and not isinstance(made.type, click.Choice):
            made.metavar = word(made.type.name.upper())
        if isinstance(made.show_default, str):
            made.show_default = _of("defaults", made, verb) or made.show_default
    return made


def _of(table: str, option: click.Option, verb: str) -> str:
    found: Mapping[str, Any] = _texts()[table]
    key = key_of(option)
    return str(found.get(verb, {}).get(key) or found["every"].get(key, ""))


def _texts() -> Mapping[str, Any]:
    from woundfhir.texts import tables  # only where help is shown

    return tables(__name__)


def _formats(option: click.Option) -> str:
    from woundfhir.intake.formats import FORMATS
    from woundfhir.messages import translated

    pattern: str = _texts()["shared"]["format"]
    choices = getattr(option.type, "choices", ())
    return "; ".join(
        pattern.format(name=one, title=translated(FORMATS[one].title)) for one in choices if one in FORMATS
    )


def _verb(ctx: click.Context) -> str:
    """The verb of a context, with its part: ``map propose``; that of the command itself is ``ROOT``."""
    return " ".join(ctx.command_path.split()[1:]) or ROOT
