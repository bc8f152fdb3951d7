"""One change to a good note: a dangerous or contradictory one is asked about, a harmless one is not.

The changes are data (``changes.yaml``), of our own making: common practice, no source.
"""

from __future__ import annotations

import copy
from typing import Any

import pytest

from tests.checklist.casebook import FOLDER, base, load, record
from tests.paths import ROOT
from woundfhir.checklist import check
from woundfhir.record import History

Json = Any

CHANGES: dict[str, list[dict[str, Json]]] = load(FOLDER.parent / "changes.yaml")
_TAKEN_OUT = "~"


def _start(one: dict[str, Json]) -> Json:
    """The record before the change, each leaf text; a note before it where the change is one from note to note."""
    name = one["from"]
    if name.endswith(".yaml"):
        place = ROOT / name if name.startswith("examples/") else FOLDER.parent / name
        return load(place)
    earlier = {"before": [{"visit": {"at": "2026-03-02T10:00:00-05:00"}}]} if "before" in one else {}
    made = record({"base": name, **earlier})
    for path, to in one.get("before", {}).items():
        _put(made, ["visits", "0", "wounds", "0", *path.split(".")], to)
    return made


def _steps(made: Json, path: str) -> list[str]:
    """The whole path in the record of a path of a change: ``last`` is the first wound of the newest note."""
    first, *rest = path.split(".")
    note = ["visits", str(len(made["visits"]) - 1)]
    starts = {
        "last": [*note, "wounds", "0"],
        "W": ["wounds", "0"],
        "visit": note,
        "client": [*note, "client"],
        "patient": ["patient"],
        "wounds": ["wounds"],
        "visits": ["visits"],
    }
    return [*starts.get(first, [*note, "wounds", "0", first]), *rest]


def _put(made: Json, steps: list[str], to: Json) -> None:
    for step in steps[:-1]:
        made = made[int(step)] if isinstance(made, list) else made.setdefault(step, {})
    if to == _TAKEN_OUT:
        made.pop(steps[-1], None)
    elif isinstance(made, list):
        made[int(steps[-1])] = to
    else:
        made[steps[-1]] = to


def _looks(made: Json) -> set[tuple[str, str]]:
    return {(one.rule, one.path) for one in check(History.of(made)) if not one.to_add}


def _new(one: dict[str, Json]) -> set[tuple[str, str]]:
    start = _start(one)
    changed = copy.deepcopy(start)
    for path, to in {one["at"]: one["to"], **one.get("with", {})}.items():
        _put(changed, _steps(changed, path), to)
    assert changed != start
    return _looks(changed) - _looks(start)


@pytest.mark.parametrize("one", CHANGES["dangerous"], ids=lambda one: str(one["says"]))
def test_a_dangerous_change_is_asked_about(one: dict[str, Json]) -> None:
    assert _new(one), "nothing asks"


@pytest.mark.parametrize("one", CHANGES["harmless"], ids=lambda one: str(one["says"]))
def test_a_harmless_change_is_not(one: dict[str, Json]) -> None:
    assert _new(one) == set()


def test_there_are_enough_changes_of_every_kind() -> None:
    """Of 79 single changes to a good note, 40 dangerous ones once ended in "Complete."."""
    assert len(CHANGES["dangerous"]) >= 79 and len(CHANGES["harmless"]) >= 40
    begun = {one["from"] for one in CHANGES["dangerous"]}
    assert {"change", "full", "honey", "packing", "pressure", "leg", "foot", "tear", "burn", "negative"} <= begun
    assert all(isinstance(base(name), dict) for name in begun if not name.endswith(".yaml"))
