"""Good resources, and the same resources broken in one place each, with what the engine has to say to that."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Mapping, Sequence
from functools import reduce
from pathlib import Path
from typing import Any

from .allowed import refused
from .engine import Issue

Json = Any
_FOLDER = Path(__file__).resolve().parent / "cases"


def good(name: str = "good") -> dict[str, dict[str, Json]]:
    """Return the good resources of a file of the folder ``cases``, by name."""
    return json.loads((_FOLDER / f"{name}.json").read_text("utf-8"))  # type: ignore[no-any-return]


def raw(name: str) -> list[dict[str, Json]]:
    """Return the cases of a file.

    Each has a ``name``, the name of the good resource that it is made ``of``, a ``patch``, a regular expression that
    one message of the engine (or its id) is to fit (``expect``), the least ``severity`` of it, and the ``source`` of
    the rule.
    """
    return json.loads((_FOLDER / f"{name}.json").read_text("utf-8"))  # type: ignore[no-any-return]


def patched(resource: Mapping[str, Json], patch: Sequence[Mapping[str, Json]]) -> dict[str, Json]:
    """Return a copy with ``set`` and ``remove`` done at JSON pointers (RFC 6901; ``-`` is the end of a list)."""
    made = copy.deepcopy(dict(resource))
    for step in patch:
        *way, last = [int(part) if part.isdigit() else part for part in step["path"].split("/")[1:]]
        start: Json = made
        holder: Json = reduce(lambda found, part: found[part], way, start)
        if step["op"] == "remove":
            del holder[last]
        elif last == "-":
            holder.append(step["value"])
        else:
            holder[last] = step["value"]
    return made


def says(case: Mapping[str, Json], issues: list[Issue]) -> bool:
    """Whether one of the refused findings is the one that the case expects."""
    severe = {"error": ("error", "fatal"), "warning": ("error", "fatal", "warning")}[case["severity"]]
    return any(
        issue.severity in severe and re.search(case["expect"], f"{issue.message_id} {issue.message}")
        for issue in refused(issues)
    )
