"""Tokens and passwords: from the environment or a file, never from an argument, and in no message, log or receipt."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from woundfhir.errors import InputError


def first_line(path: str | Path) -> bytes:
    """Return the first line of a file, without its end: what holds a password or a token.

    Raises
    ------
    InputError
        When there is no such file, or it cannot be read.
    """
    from woundfhir.intake.source import load

    return load(Path(path)).split(b"\n")[0].rstrip(b"\r")


def visible(token: str, where: str) -> str:
    """Return a bearer token; refuse what cannot stand in a header (RFC 6750 section 2.1).

    Examples
    --------
    >>> visible("a.b-c", "WOUNDFHIR_TOKEN")
    'a.b-c'
    """
    if not token or not token.isascii() or not token.isprintable() or " " in token:
        raise InputError(where, "a token of visible characters without a space", "Copy it again")
    return token


def token_from(name: str, file_name: str, environment: Mapping[str, str] | None = None) -> str | None:
    """Return the token that the environment holds, or whose file it names; None where neither is set.

    Parameters
    ----------
    name, file_name
        The two names in the environment.

    Raises
    ------
    InputError
        For no token, a file that cannot be read, and where both are set.

    Examples
    --------
    >>> token_from("A", "A_FILE", {"A": " abc "}), token_from("A", "A_FILE", {})
    ('abc', None)
    """
    said = os.environ if environment is None else environment
    if said.get(name) and said.get(file_name):
        raise InputError("the environment", f"one of {name}, {file_name}", "Leave the other out")
    if said.get(name):
        return visible(said[name].strip(), name)
    if said.get(file_name):
        return visible(first_line(said[file_name]).decode("utf-8", "replace").strip(), file_name)
    return None
