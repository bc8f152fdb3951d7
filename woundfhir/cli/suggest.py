"""What helps after a mistyped command line: the nearest verb or value, and examples. (Options are click's own.)"""

from __future__ import annotations

from difflib import get_close_matches

import click


def meant(error: click.ClickException) -> str:
    """Return what a person may have meant, or examples of a verb that was given nothing; empty where nothing helps."""
    if "Did you mean" in error.format_message():
        return ""
    if isinstance(error, click.MissingParameter):
        return _examples(error.ctx)
    if isinstance(error, click.BadParameter) and error.param is not None:
        given = error.message.split("'")[1:2]
        return _line(given[0] if given else "", getattr(error.param.type, "choices", ()))
    ctx = getattr(error, "ctx", None)
    if isinstance(error, click.UsageError) and "No such command" in error.message and ctx is not None:
        return _line(error.message.split("'")[1], ctx.command.list_commands(ctx))
    return ""


def _examples(ctx: click.Context | None) -> str:
    """The lines of examples at the head of the help of a verb."""
    _, mark, rest = ("" if ctx is None else ctx.command.help or "").partition("\b\n")
    lines = rest.split("\n\n", 1)[0].splitlines()
    return "\n".join(("\nFor example:", *(f"  {one.strip()}" for one in lines), "")) if mark else ""


def _line(given: str, known: object) -> str:
    assert isinstance(known, tuple | list)
    found = get_close_matches(given.casefold(), [str(one) for one in known], 2, 0.6)
    return f"Did you mean {' or '.join(found)}?\n" if found else ""
