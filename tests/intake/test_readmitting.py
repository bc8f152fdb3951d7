"""What does not count and has a word in the record all the same: a note or a wound of ours in error, a step not done.

R4: "entered-in-error" of Encounter, Observation and Condition.verificationStatus; EventStatus "not-done". That our own
note comes back as it was written is a promise of ours; what others take back of it is no fact.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from tests.intake.facts import facts
from woundfhir import History, from_fhir, to_fhir

Json = Any
CARE = {"cleansing": {"absent": "not done"}, "compression": {"absent": "not done"}}
RAW: Json = {
    "woundfhir": 1,
    "patient": {"identifiers": [{"system": "urn:example:card", "value": "7"}]},
    "wounds": [{"id": "W1"}, {"id": "W2", "status": "entered in error"}],
    "visits": [
        {"id": "V1", "at": "2026-03-02", "status": "entered in error",
         "wounds": [{"wound": "W1", "assessment": {"length": "4 cm"}}]},
        {"id": "V2", "at": "2026-03-03", "status": "final",
         "wounds": [{"wound": "W1", "assessment": {"length": "5 cm"}, "care": CARE}]},
    ],
}  # fmt: skip
#: What is not ours, so that each resource is judged.
ANOTHER = {"resourceType": "Basic", "id": "x", "code": {"text": "x"}}
ERROR, FOUR = "2026-03-02 entered in error", "W1 length 4 cm"
STEPS = [f"2026-03-03 final W1 {one} {{'absent': 'not done'}}" for one in CARE]
FIVE = "2026-03-03 final W1 length 5 cm"


def ours(place: str) -> Callable[[list[Json]], Json]:
    return lambda came: next(one for one in came if one.get("identifier", [{}])[0].get("value") == place)


def turned(place: str, status: str) -> Callable[[list[Json]], Json]:
    def edit(came: list[Json]) -> Json:
        ours(place)(came)["status"] = status
        return came

    return edit


def requested(place: str, method: str) -> Callable[[list[Json]], Json]:
    def edit(came: list[Json]) -> Json:
        entries = [{"resource": one, "request": {"method": "PUT"}} for one in came]
        next(one for one in entries if one["resource"] is ours(place)(came))["request"] = {"method": method}
        return {"resourceType": "Bundle", "type": "batch", "entry": entries}

    return edit


def again(place: str, **more: Json) -> Callable[[list[Json]], Json]:
    """Another version, a day newer."""

    def edit(came: list[Json]) -> Json:
        one = ours(place)(came)
        newer = {**copy.deepcopy(one), **more, "meta": {**one["meta"], "lastUpdated": "2026-03-09T10:00:00Z"}}
        one["meta"] = {**one["meta"], "lastUpdated": "2026-03-08T10:00:00Z"}
        return [*came, newer]

    return edit


#: Case -> what was done to ours, the facts, and the wounds.
CASES: dict[str, tuple[Callable[[list[Json]], Json], list[str], list[str]]] = {
    "nothing": (lambda came: came, [f"{ERROR} {FOUR}", *STEPS, FIVE], ["W1", "W2"]),
    "a finding was taken back": (turned("V2/W1/size", "entered-in-error"), [f"{ERROR} {FOUR}", *STEPS], ["W1", "W2"]),
    "the note was not in error after all": (turned("V1", "finished"), [*STEPS, FIVE], ["W1", "W2"]),
    "the wound in error was taken from the server": (
        requested("W2", "DELETE"),
        [f"{ERROR} {FOUR}", *STEPS, FIVE],
        ["W1"],
    ),
    "a step was taken from the server": (
        requested("V2/W1/compression", "DELETE"),
        [f"{ERROR} {FOUR}", STEPS[0], FIVE],
        ["W1", "W2"],
    ),
    "the change of dressing was not done": (
        turned("V2/W1/care", "not-done"),
        [f"{ERROR} {FOUR}", *STEPS, FIVE],
        ["W1", "W2"],
    ),
    "the note came in a newer version": (again("V1", status="finished"), [*STEPS, FIVE], ["W1", "W2"]),
    "the note in error came twice": (again("V1"), [f"{ERROR} {FOUR}", *STEPS, FIVE], ["W1", "W2"]),
}


@pytest.mark.parametrize("name", CASES)
def test_what_is_let_in_again(name: str) -> None:
    edit, expected, wounds = CASES[name]
    came = edit([*to_fhir(History.of(RAW)), ANOTHER])
    history, _ = from_fhir(came)
    found = [line for line in facts(history.data) if FOUR in line or "length 5" in line or "not done" in line]
    assert found == sorted(expected)
    assert [one["id"] for one in history.wounds] == wounds
