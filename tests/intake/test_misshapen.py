"""One element of the wrong kind costs its own resource, and no other (FHIR R4, JSON: an object, a list, a text).

The resources are those of a home visit as a server of R4 writes them (common practice, no source).
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from typing import Any

import pytest

from tests.intake.foreign.inputs import P, client, cm, coded, obs, visit, wound
from tests.intake.strangers.test_strangers import loose
from woundfhir.fhir import to_fhir
from woundfhir.intake.resources import from_fhir

Json = Any
HERE = {"focus": [{"reference": "Condition/w"}], "encounter": {"reference": "Encounter/e"}}
NURSE = {"resourceType": "Practitioner", "id": "n", "name": [{"family": "Roe", "given": ["Jo"]}]}
HOUSE = {"resourceType": "Organization", "id": "o", "name": "Home care (invented)"}
_CAME = [
    client(name=[{"family": "Doe", "given": ["Ann"]}], identifier=[{"system": "urn:example:card", "value": "7"}]),
    NURSE,
    HOUSE,
    wound("w", note=[{"text": "since spring"}], bodySite=[{"text": "Left heel"}]),
    visit(),
    obs("l", "39126-8", valueQuantity=cm(4), **HERE),
    obs("d", "39127-6", valueQuantity=cm(1), performer=[{"reference": "Organization/o"}], **HERE),
    {
        **{"resourceType": "Procedure", "id": "c", "status": "completed", "subject": P},
        "code": coded("18949003", "Change of dressing"),
        "usedCode": [{"text": "Foam dressing"}],
        "performer": [{"actor": {"reference": "Practitioner/n"}}],
        "performedDateTime": "2026-03-02T10:05:00-05:00",
        "reasonReference": [{"reference": "Condition/w"}],
    },
]
CAME = json.loads(json.dumps(_CAME))  # nothing of it is shared
WRONG: tuple[Json, ...] = ("words", 7, None, {}, [], {"x": 1}, ["words"], [{}], [None])


def places(value: Json, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    for key, item in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        yield (*path, key)
        yield from places(item, (*path, key))


@pytest.mark.parametrize("number", range(len(CAME)), ids=[one["resourceType"] + one["id"] for one in CAME])
def test_every_element_of_the_wrong_kind_costs_its_own_resource_alone(number: int) -> None:
    for path in places(CAME[number]):
        if path[-1] in ("resourceType", "id", "reference"):  # names: another one names another thing
            continue
        for wrong in WRONG:
            came = copy.deepcopy(CAME)
            holder: Json = came[number]
            for key in path[:-1]:
                holder = holder[key]
            holder[path[-1]] = copy.deepcopy(wrong)
            history, losses = from_fhir(came)
            said = str(history.data["visits"]) + str(history.data["wounds"])
            if number not in (3, 5):  # the wound that is measured, and its measure
                assert "'4 cm'" in said, (path, wrong)
            assert losses.values and history.patient, (path, wrong)


def test_what_is_set_aside_is_kept_and_stays_aside() -> None:
    wrong = {**CAME[5], "id": "x", "code": "width"}, {**CAME[5], "id": 7}, {**HOUSE, "id": "p", "name": {"text": "x"}}
    came = [*CAME, *wrong]
    history, losses = from_fhir(came)
    assert len(losses.of("not-understood")) == 3 and losses.asks
    assert all(any(name in str(one) for one in history.extra) for name in ('"x"', "width"))
    again, _ = from_fhir(to_fhir(history))
    assert loose(again) == loose(history) and loose(history) == loose(from_fhir(CAME)[0])
