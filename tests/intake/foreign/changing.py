"""One leaf of an input changed to another value of the same kind: what the laws and ``tools/score_foreign.py`` do."""

from __future__ import annotations

import copy
from decimal import Decimal
from typing import Any

Json = Any
Steps = tuple[Any, ...]


def changed(value: Json, path: Steps) -> Json:
    """Return another value of the same kind; the last step of the path says what kind it is."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, (int, Decimal)):
        return value + 1
    if path[-1] == "reference":
        head, version, number = value.partition("/_history/")
        return value.replace("#", "#zz") if value.startswith("#") else f"{head}zz{version}{number}"
    if value[:4].isdigit() and value[4:5] in ("-", "") and int(value[:4]) > 1:
        return f"{int(value[:4]) - 1:04d}{value[4:]}"
    return f"{value}zz"


def put(root: Json, path: Steps, value: Json) -> Json:
    """Return a copy in which a path holds a value."""
    made = copy.deepcopy(root)
    holder = made
    for step in path[:-1]:
        holder = holder[step]
    holder[path[-1]] = value
    return made


def altered(came: Json, path: Steps) -> Json:
    """Return a copy in which the leaf at a path has another value."""
    value = came
    for step in path:
        value = value[step]
    return put(came, path, changed(value, path))
