"""JSON bent out of shape at one place."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

Json = Any
SECRET = "Zebulon-4171948"
JUNK: list[Json] = [None, [], {}, 0, "", SECRET, "../../x", [[]], [None], {"a": None}, True, ["a"], "http://[bad"]


def steps(value: Json, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The places in an answer, those near its top first."""
    level = [(value, path)]
    while level:
        below = []
        for one, where in level:
            inner = one.items() if isinstance(one, dict) else enumerate(one) if isinstance(one, list) else ()
            below += [(item, (*where, key)) for key, item in inner]
        yield from (where for _, where in below)
        level = below


def bent(value: Json, place: int, junk: Json, drop: bool) -> Json:
    """Return a copy in which what stands at a place is gone (``drop``), or is something else."""
    changed = copy.deepcopy(value)
    places = list(steps(changed))
    if places:
        *way, last = places[place % len(places)]
        around = changed
        for step in way:
            around = around[step]
        if drop:
            del around[last]
        else:
            around[last] = junk
    return changed
