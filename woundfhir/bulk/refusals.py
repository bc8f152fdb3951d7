"""Clients who are not in the output, and why: lines of a file of errors, and the line that an error is about."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TypeVar

from woundfhir.errors import InputError, escaped

#: The longest name or reason in a file of errors, in characters.
_LONGEST = 1000
#: The first line of a file of errors.
ERRORS = "file\tline\treason"
#: Why a client is not in the output, where lines that cannot be read are listed.
NOT_READ = "none of this client was read: {}"
_LINE = re.compile(r"line (\d+)(?:, (?P<rest>.*))?$")

_Place = TypeVar("_Place")


def line_in(error: InputError) -> int | None:
    """Return the number of the line that an error names, where it names one.

    Examples
    --------
    >>> line_in(InputError("a, client 1, line 2, $.id", "an id", "Write it"))
    2
    """
    found = _LINE.search(error.where)
    return int(found[1]) if found else None


def line_of(error: InputError, places: Sequence[_Place]) -> _Place:
    """Return the place of the line that an error about a client's lines names, else that of the first.

    Examples
    --------
    >>> line_of(InputError("a, client 1, line 2, $.id", "an id", "Write it"), [(0, 7), (3, 9)])
    (3, 9)
    """
    at = (line_in(error) or 1) if len(places) > 1 else 1
    return places[at - 1] if at <= len(places) else places[0]


def not_apart() -> InputError:
    """Return the error where a reader of FHIR could not say whose a resource is."""
    wrong = "not all of it would come back: something names no client, or two records are of one client"
    fix = "Write record-ndjson; or a file for each client: make a folder and name it with -o"
    return InputError("--to", "a format that keeps these clients apart", fix, found=wrong)


def error_line(name: str, line: int, reason: str) -> str:
    """Return a line of a file of errors.

    Examples
    --------
    >>> error_line("a.ndjson", 7, "no JSON that can be read")
    'a.ndjson\\t7\\tno JSON that can be read'
    """
    return "\t".join((escaped(name, _LONGEST), str(line), escaped(reason, _LONGEST)))
