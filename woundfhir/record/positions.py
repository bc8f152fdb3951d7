"""Which note, and which wound, a path of the record is about: their numbers in the record."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

_PATH = re.compile(r"(?:visits\[(\d+)\](?:\.wounds\[(\d+)\])?|wounds\[(\d+)\])\.?")


class Positions(NamedTuple):
    """Numbers of what a path is about, from 0; None for what it does not name.

    Attributes
    ----------
    visit
        Of a visit.
    entry
        Of what that visit says of one wound.
    wound
        Of a wound itself.
    rest
        The path from there on.
    """

    visit: int | None
    entry: int | None
    wound: int | None
    rest: str


@lru_cache(maxsize=65536)
def positions(path: str) -> Positions:
    """Return the numbers in a path such as ``visits[0].wounds[1].assessment.length``.

    Examples
    --------
    >>> positions("visits[0].wounds[1].assessment.length")
    Positions(visit=0, entry=1, wound=None, rest='assessment.length')
    >>> positions("wounds[2]")[:3], positions("patient.born").visit
    ((None, None, 2), None)
    """
    found = _PATH.match(path)
    if found is None:
        return Positions(None, None, None, path)
    visit, entry, wound = (None if number is None else int(number) for number in found.groups())
    return Positions(visit, entry, wound, path[found.end() :])
