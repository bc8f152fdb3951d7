"""Options and arguments that several verbs share."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from woundfhir.jose.keys import Key

_F = TypeVar("_F", bound=Callable[..., Any])


def inputs(command: _F) -> _F:
    """One or several files, folders, or ``-``."""
    return click.argument("inputs", nargs=-1, required=True, metavar="IN...")(command)


def output(command: _F) -> _F:
    """``-o`` and ``--force``."""
    command = click.option("--force", is_flag=True, help="Write over a file that exists.")(command)
    return click.option(
        "-o", "--output", type=click.Path(path_type=Path), help="Write to this file, not to standard output."
    )(command)


def to(verb: str, default: str) -> Callable[[_F], _F]:
    """``--to``: the file format to write, out of those that serve a verb; ``default`` says what it is without."""
    from woundfhir.intake.formats import FORMATS, serving

    names = serving(verb)
    listed = "; ".join(f"{name}: {FORMATS[name].title}" for name in names)
    return click.option("--to", type=click.Choice(names), help=f"The format to write; default: {default}. {listed}.")


def password(command: _F) -> _F:
    """``--password-file``: never on the command line, where other users of the machine can read it."""
    return click.option(
        "--password-file",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="A file with the password of our own private key, if it has one.",
    )(command)


def key(path: Path, password_file: Path | None = None) -> Key:
    """Return the key in a file; ``password_file`` holds the password of a private one, on its first line."""
    from woundfhir.intake.source import load
    from woundfhir.jose.keys import read_key

    secret = None if password_file is None else load(password_file).split(b"\n")[0].rstrip(b"\r")
    return read_key(load(path), str(path), secret)


def emit(content: bytes, path: Path | None, force: bool) -> None:
    """Write bytes to a file, or to standard output."""
    if path is None:
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
    else:
        from woundfhir.output import save

        save(content, path, force=force)
        click.echo(f"Wrote {path} ({len(content)} bytes).", err=True)


def tell_losses(name: str, losses: list[str]) -> None:
    """Say on standard error what was not understood and where it is kept."""
    if losses:
        click.echo(f"{name}: {len(losses)} kept under 'extra', without a place in the record:", err=True)
        for line in losses:
            click.echo(f"  {line}", err=True)
