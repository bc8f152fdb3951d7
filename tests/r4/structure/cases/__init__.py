"""Good resources, and the same broken in one place each: what our check and two other validators have to say."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, NamedTuple

from tests.conformance.cases import patched

Json = Any
_FOLDER = Path(__file__).resolve().parent


class Case(NamedTuple):
    """One broken resource.

    ``key``, ``path`` and ``severity`` are of the issue that must be told; ``schema`` and ``pyrofile`` say whether R4's
    JSON Schema and pyrofile-validator 0.3.0 find the break.
    """

    name: str
    of: str
    resource: dict[str, Json]
    key: str
    path: str
    severity: str
    source: str
    schema: bool
    pyrofile: bool


def _read(name: str) -> Json:
    return json.loads((_FOLDER / name).read_text("utf-8"))


GOOD: dict[str, dict[str, Json]] = _read("good.json")
BROKEN: list[Case] = [
    Case(
        resource=patched(GOOD[raw["of"]], raw["patch"]), **{key: value for key, value in raw.items() if key != "patch"}
    )
    for raw in _read("broken.json")
]
