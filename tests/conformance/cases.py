"""Good resources, and the same resources broken in one place each, with what the engine has to say to that."""

from __future__ import annotations

import copy
import json
from collections.abc import Mapping, Sequence
from functools import reduce
from pathlib import Path
from typing import Any, NamedTuple

Json = Any
_FOLDER = Path(__file__).resolve().parent / "cases"


class Broken(NamedTuple):
    """One resource that must be refused.

    ``expect`` is a regular expression that one message (or its id) of at least ``severity`` must fit.
    """

    name: str
    resource: dict[str, Json]
    expect: str
    severity: str
    source: str


def good(name: str = "good") -> dict[str, dict[str, Json]]:
    """Return the good resources of a file of the folder ``cases``, by name."""
    return json.loads((_FOLDER / f"{name}.json").read_text("utf-8"))  # type: ignore[no-any-return]


def broken(resources: Mapping[str, dict[str, Json]], name: str = "broken") -> list[Broken]:
    """Return the cases of a file, each made from one of the good resources by its patch."""
    raws = json.loads((_FOLDER / f"{name}.json").read_text("utf-8"))
    return [
        Broken(raw["name"], patched(resources[raw["of"]], raw["patch"]), raw["expect"], raw["severity"], raw["source"])
        for raw in raws
    ]


def patched(resource: Mapping[str, Json], patch: Sequence[Mapping[str, Json]]) -> dict[str, Json]:
    """Return a copy with ``set`` and ``remove`` done at JSON pointers (RFC 6901); ``remove`` needs what it removes."""
    made = copy.deepcopy(dict(resource))
    for step in patch:
        *way, last = [int(part) if part.isdigit() else part for part in step["path"].split("/")[1:]]
        start: Json = made
        holder: Json = reduce(lambda found, part: found[part], way, start)
        if step["op"] == "remove":
            del holder[last]
        else:
            holder[last] = step["value"]
    return made
