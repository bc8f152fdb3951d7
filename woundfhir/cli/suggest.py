"""What helps after a mistyped command line: the nearest verb or value, and examples. (Options are click's own.)"""

from __future__ import annotations

import re
from difflib import get_close_matches

import click

from woundfhir.cli.click_words import of_click
from woundfhir.cli.help import help_of

#: What click names of that which was given, in the quotation marks of either language.
_GIVEN = re.compile("'([^']*)'|«\u00a0(.*?)\u00a0»")


def meant(error: click.ClickException) -> str:
    """Return what a person may have meant, or examples of a verb that was given nothing; empty where nothing helps."""
    if any(_begins(error.format_message(), text, anywhere=True) for text in _NEAR):
        return ""
    if isinstance(error, click.MissingParameter):
        return _examples(error.ctx)
    if isinstance(error, click.BadParameter) and error.param is not None:
        return _line(_given(error.message), getattr(error.param.type, "choices", ()))
    ctx = getattr(error, "ctx", None)
    if isinstance(error, click.UsageError) and _begins(error.message, "No such command {name!r}.") and ctx is not None:
        return _line(_given(error.message), ctx.command.list_commands(ctx))
    return ""


#: With these click names what is near by itself.
_NEAR = ("Did you mean {possibility}?", "(Did you mean one of: {possibilities}?)")


def _begins(message: str, text: str, *, anywhere: bool = False) -> bool:
    first = of_click(text).partition("{")[0]
    return first in message if anywhere else message.startswith(first)


def _given(message: str) -> str:
    found = _GIVEN.search(message)
    return "" if found is None else found[1] or found[2] or ""


def _examples(ctx: click.Context | None) -> str:
    """The lines of examples at the head of the help of a verb."""
    from woundfhir.cli.texts import words

    _, mark, rest = ("" if ctx is None else help_of(ctx)).partition("\b\n")
    lines = rest.split("\n\n", 1)[0].splitlines()
    return "\n".join(("", words("suggest.example"), *(f"  {one.strip()}" for one in lines), "")) if mark else ""


def _line(given: str, known: object) -> str:
    from woundfhir.cli.texts import words

    assert isinstance(known, tuple | list)
    found = get_close_matches(given.casefold(), [str(one) for one in known], 2, 0.6)
    return words("suggest.meant", near=words("suggest.or").join(found)) + "\n" if found else ""
