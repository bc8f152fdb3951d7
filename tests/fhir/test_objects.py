"""Objects of fhir.resources (an outside library): every history goes into them and comes back with the same bytes."""

from __future__ import annotations

import copy
import pickle
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest
from fhir.resources.R4B.bundle import Bundle, BundleEntry
from fhir.resources.R4B.observation import Observation
from fhir.resources.R4B.patient import Patient
from hypothesis import given

from tests.strategies import records
from woundfhir import from_fhir, to_fhir, to_models
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.intake.source import parse
from woundfhir.r4.jsonio import encode
from woundfhir.r4.objects import WrittenDateTime, from_object, to_object
from woundfhir.record import History


@given(records())
def test_each_history_comes_back_from_objects_as_it_was(raw: dict[str, Any]) -> None:
    history = History.of(raw)
    plain = to_fhir(history)
    objects = to_models(history)
    assert [encode(from_object(one)) for one in objects] == [encode(in_order(one)) for one in plain]
    back, losses = from_fhir(objects)
    assert back == from_fhir(plain)[0]
    assert {one.kind for one in losses.items} <= ({"kept"} if history.extra else set())  # what the record carries


def in_order(resource: dict[str, Any]) -> dict[str, Any]:
    """The same resource in R4's order of members, which is what objects keep."""
    from woundfhir.r4.definitions import elements, order, resource_types

    def arranged(value: Any, kind: str) -> Any:
        if isinstance(value, list):
            return [arranged(item, kind) for item in value]
        if not isinstance(value, dict):
            return value
        kind = value.get("resourceType", kind)
        rank, known = order(kind), elements(kind)
        out = {"resourceType": kind} if kind in resource_types() else {}
        for key in sorted(value.keys() - {"resourceType"}, key=rank.__getitem__):
            out[key] = arranged(value[key], known[key].type if key in known else "Element")
        return out

    return arranged(resource, "Element")  # type: ignore[no-any-return]


def test_the_story_comes_back_and_its_sizes_keep_their_zeros() -> None:
    history = parse(story(), "story").history
    objects = to_models(history)
    assert from_fhir(objects)[0] == history
    bundle = Bundle(type="collection", entry=[BundleEntry(resource=one) for one in objects])
    assert from_fhir(bundle)[0] == history and from_fhir([bundle])[0] == history
    assert {type(one).__module__.split(".")[2] for one in objects} == {"R4B"}


def test_a_decimal_and_a_time_keep_their_spelling() -> None:
    times = {"effectiveDateTime": "2026-03-02T10:05:00.1234567+00:00", "issued": "2026-03-02T15:05:00.120Z"}
    plain = {
        "resourceType": "Observation",
        "status": "final",
        "code": {"text": "Length"},
        **times,
        "valueQuantity": {"value": Decimal("4.10")},
    }
    made = to_object(plain)
    for one in (made, copy.deepcopy(made), pickle.loads(pickle.dumps(made))):
        assert encode(from_object(one)["valueQuantity"]) == b'{"value":4.10}'
        assert {key: from_object(one)[key] for key in times} == times
        assert one.effectiveDateTime == datetime(2026, 3, 2, 10, 5, 0, 123456, UTC)


def test_a_leap_second_keeps_its_text() -> None:
    """The newest leap second stood at the end of 2016 (IERS Bulletin C 52; from memory)."""
    text = "2016-12-31T23:59:60.5Z"
    plain = {"resourceType": "Observation", "status": "final", "code": {"text": "Length"}, "issued": text}
    made = to_object(plain)
    assert made.issued == datetime(2016, 12, 31, 23, 59, 59, 500000, UTC) and from_object(made) == plain


def test_an_object_made_by_hand_is_read() -> None:
    came = Patient(birthDate="1948-03", name=[{"family": "Example", "given": ["Ann"]}])
    history, losses = from_fhir(came)
    assert history.patient == {"name": {"family": "Example", "given": ["Ann"]}, "born": "1948-03"} and not losses.items
    seen = Observation(status="final", code={"text": "Length"}, effectiveDateTime=datetime(2026, 3, 2, tzinfo=UTC))
    assert from_object(seen)["effectiveDateTime"] == "2026-03-02T00:00:00Z"
    assert WrittenDateTime.of("2026-03-02T10:05:00Z").replace(hour=11).isoformat() == "2026-03-02T11:05:00+00:00"


@pytest.mark.parametrize(
    ("resource", "place"),
    [
        ({"resourceType": "Patient", "birthDate": "Marker-Tremblay"}, "Patient.birthDate"),
        ({"resourceType": "Patient", "Marker Tremblay": 1}, "Patient.?"),
        ({"resourceType": "Patient", "name": [{"family": 3}]}, "Patient.name[0].family"),
        ({"resourceType": "Marker-Tremblay"}, "resourceType"),
        ({"resourceType": "MedicinalProduct"}, "resourceType"),
        ({"resourceType": "Observation", "status": "final", "issued": "2026-02-30T23:59:00Z"}, "Observation."),
    ],
)
def test_what_the_library_refuses_is_named_without_its_value(resource: dict[str, Any], place: str) -> None:
    with pytest.raises(InputError) as error:
        to_object(resource)
    assert place in error.value.where and "Marker" not in str(error.value)


def test_what_is_no_resource_is_refused() -> None:
    with pytest.raises(InputError, match="plain dicts, or objects"):
        from_fhir([3])  # type: ignore[list-item]
