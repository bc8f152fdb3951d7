"""Tokens and passwords: from the environment or a file, never from an argument, and in no message, log or receipt."""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from woundfhir.errors import InputError
from woundfhir.extras import need

if TYPE_CHECKING:
    from woundfhir.jose.keys import Key


def first_line(path: str | Path) -> bytes:
    """Return the first line of a file, without its end: what holds a password or a token.

    Raises
    ------
    InputError
        When there is no such file, or it cannot be read.
    """
    from woundfhir.intake.source import load

    return load(Path(path)).split(b"\n")[0].rstrip(b"\r")


def key_in(path: Path, where: str, password: bytes | None = None) -> Key:
    """Return the key in a file; refuse a private one that other users of the machine can read or change.

    As OpenSSH does (ssh(1), FILES: "ssh will simply ignore a private key file if it is accessible by others"), of the
    file that a symbolic link leads to. Where a file is not the user's own, as with secrets that a service is given,
    its group may read it. Pipes have no such permissions, nor has Windows.

    Parameters
    ----------
    where
        What names the file in an error.

    Raises
    ------
    InputError
        For such a file, and for what ``read_key`` refuses.
    """
    from woundfhir.intake.source import load

    content = load(path)
    need("signatures", where)
    from woundfhir.jose.key_files import read_key

    key = read_key(content, where, password)
    if key.private and os.name == "posix":
        found = path.stat()
        open_to = 0o077 if found.st_uid == os.getuid() else 0o037
        if stat.S_ISREG(found.st_mode) and found.st_mode & open_to:
            expected = "a private key that only you can read, and other users can read or change this file"
            raise InputError(
                where, expected, "Run chmod 600 on it; if others may have read it, make a new pair of keys"
            )
    return key


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
