"""Joining: nothing is lost, nothing is decided silently, doing it twice changes nothing."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import partial
from typing import Any

import pytest
from hypothesis import given, settings

from tests.strategies import records
from woundfhir.errors import InputError
from woundfhir.handover.merge import CONFLICT, EARLIER, merge
from woundfhir.intake.resources import from_fhir
from woundfhir.record import History

CLIENT = {"identifiers": [{"system": "urn:example:clinic", "value": "C-1"}]}
AT = "2026-03-02T10:00:00-05:00"
some = settings(max_examples=60)


def record(*visits: dict[str, Any], wounds: list[dict[str, Any]] | None = None, **more: Any) -> History:
    patient = {**CLIENT, **more.pop("patient", {})}
    wounds = [{"id": "W1", "site": "sacrum"}] if wounds is None else wounds
    return History.of({"woundfhir": 1, "patient": patient, "wounds": wounds, "visits": list(visits), **more})


def visit(name: str = "V1", status: str = "final", wound: str = "W1", **assessment: Any) -> dict[str, Any]:
    return {"id": name, "at": AT, "status": status, "wounds": [{"wound": wound, "assessment": assessment}]}


def facts(value: Any) -> Iterator[str]:
    """Every text that a record holds, apart from how its ``extra`` is made."""
    if isinstance(value, dict):
        for item in value.values():
            yield from facts(item)
    elif isinstance(value, list):
        for item in value:
            yield from facts(item)
    else:
        yield str(value)


def all_text(history: History) -> set[str]:
    found = set(facts(history.data))
    for item in history.extra:
        try:
            found |= set(facts(json.loads(item.get("value", '""'))))
        except ValueError:
            continue
    return found


@some
@given(records())
def test_a_record_joined_to_itself_is_itself(raw: dict[str, Any]) -> None:
    history = History.of(raw)
    done = merge(history, history)
    assert done.history.json() == history.json()
    assert not done.added
    assert not done.conflicts
    assert not done.replaced


@some
@given(records(), records())
def test_joining_twice_changes_nothing_and_loses_nothing(a: dict[str, Any], b: dict[str, Any]) -> None:
    for raw in (a, b):
        raw["patient"].update(CLIENT)
    a["patient"].pop("born", None)
    known, came = History.of(a), History.of(b)
    before = known.json(), came.json()
    join = partial(merge, same_client=True)  # generated names differ: a person has decided
    done = join(known, came)
    assert join(done.history, came).history.json() == done.history.json()
    assert join(done.history, known).history.json() == done.history.json()
    assert join(known, came).history.json() == done.history.json()
    assert (known.json(), came.json()) == before
    kept = all_text(done.history)
    assert all_text(known) <= kept
    # what came may have had to take an id of its own; everything else is there word for word
    ids = {item["id"] for item in (*came.wounds, *came.visits)}
    assert all_text(came) - ids <= kept
    assert History.of(done.history.data).json() == done.history.json()


@some
@given(records(), records())
def test_what_is_known_stays_unless_a_later_state_came(a: dict[str, Any], b: dict[str, Any]) -> None:
    for raw in (a, b):
        raw["patient"].update(CLIENT)
        for one in raw["visits"]:
            one.pop("status", None)
        for one in raw["wounds"]:
            one.pop("status", None)
    a["patient"].pop("born", None)
    known = History.of(a)
    done = merge(known, History.of(b), same_client=True).history  # generated names differ: a person has decided
    for one in known.visits:
        mine = next(v for v in done.visits if v["id"] == one["id"])
        for entry in one.get("wounds", ()):
            joined = next(e for e in mine["wounds"] if e["wound"] == entry["wound"])
            for key in ("assessment", "care", "plan"):
                assert entry.get(key, {}).items() <= joined.get(key, {}).items()


def test_a_new_wound_and_visit_are_added() -> None:
    done = merge(record(visit()), record(visit("V2", wound="W2"), wounds=[{"id": "W2"}]))
    assert done.added == ["W2", "visit V2"]
    assert [one["id"] for one in done.history.visits] == ["V1", "V2"]


def test_a_conflict_keeps_both_and_names_no_value() -> None:
    came = visit(length="3.9 cm", odour="none")
    done = merge(record(visit(length="4.10 cm", odour="none")), record(came))
    entry = done.history.visits[0]["wounds"][0]
    assert entry["assessment"]["length"] == "4.10 cm"
    (kept,) = done.history.extra
    assert (kept["from"], kept["place"], kept["why"]) == ("record", "visits[V1].wounds[W1]", CONFLICT)
    assert json.loads(kept["value"]) == came["wounds"][0]
    (conflict,) = done.conflicts
    assert [one.path for one in conflict.differences] == ["visits[V1].wounds[W1].assessment.length"]
    assert "3.9" not in "\n".join(conflict.lines())
    assert "length 4.10 cm in what is known, 3.9 cm in what came" in "\n".join(conflict.lines(show_values=True))


def test_answers_that_do_not_touch_are_joined() -> None:
    done = merge(record(visit(length="4.10 cm")), record(visit(width="3 cm")))
    assert done.history.visits[0]["wounds"][0]["assessment"] == {"length": "4.10 cm", "width": "3 cm"}
    assert done.added == ["W1, visit V1"]
    assert not done.conflicts


@pytest.mark.parametrize(
    ("known", "came", "now"),
    [
        ("draft", "final", "came"),
        ("final", "amended", "came"),
        ("final", "entered in error", "came"),
        ("amended", "final", "known"),
        ("entered in error", "amended", "known"),
        ("entered in error", "final", "known"),
    ],
)
def test_a_later_state_of_a_note_stands_and_the_earlier_is_kept(known: str, came: str, now: str) -> None:
    sides = {"known": (known, "4 cm"), "came": (came, "5 cm")}
    done = merge(*(record(visit(status=status, length=length)) for status, length in sides.values()))
    (one,) = done.history.visits
    assert (one["status"], one["wounds"][0]["assessment"]["length"]) == sides[now]
    other = sides["came" if now == "known" else "known"]
    assert {item["why"] for item in done.history.extra} == {EARLIER}
    assert other[1] in all_text(done.history)
    assert not done.conflicts


def test_a_note_in_error_never_becomes_current() -> None:
    """Whichever side withdrew it: the note is in the record and marked."""
    for first, second in (("final", "entered in error"), ("entered in error", "final")):
        done = merge(record(visit(status=first)), record(visit(status=second)))
        assert done.history.visits[0]["status"] == "entered in error"


def test_an_amended_note_with_an_id_of_its_own_keeps_the_note_that_it_replaces() -> None:
    newer = {**visit("V2", "amended", length="5 cm"), "replaces": "V1", "replaces_reason": "wrong ruler"}
    done = merge(record(visit(length="4 cm")), record(visit(length="4 cm"), newer))
    assert [one["id"] for one in done.history.visits] == ["V1", "V2"]
    assert done.history.visits[1]["replaces"] == "V1"


def test_two_wounds_under_one_id_are_kept_apart() -> None:
    known = record(visit(length="4 cm"), wounds=[{"id": "W1", "site": "sacrum"}])
    came = record(visit("V2", length="9 cm"), wounds=[{"id": "W1", "site": "heel"}])
    done = merge(known, came)
    assert [one["id"] for one in done.history.wounds] == ["W1", "W1 (received)"]
    assert done.history.visits[1]["wounds"][0]["wound"] == "W1 (received)"
    assert [one.place for one in done.conflicts] == ["W1"]
    assert merge(done.history, came).history.json() == done.history.json()


def test_two_visits_under_one_id_are_kept_apart() -> None:
    known, came = record(visit()), record({**visit(length="4 cm"), "at": "2026-03-09T10:00:00-04:00"})
    done = merge(known, came)
    assert [one["id"] for one in done.history.visits] == ["V1", "V1 (received)"]
    assert [one.place for one in done.conflicts] == ["visit V1"]
    assert merge(done.history, came).history.json() == done.history.json()


def test_an_allergy_outweighs_none_known() -> None:
    listed, none = ({"allergies": value} for value in ([{"to": "honey"}], {"none": "known"}))
    for known, came in ((listed, none), (none, listed)):
        done = merge(record(patient=known), record(patient=came))
        assert done.history.patient["allergies"] == [{"to": "honey"}]
        assert [one.place for one in done.conflicts] == ["the client"]
        assert "known" in all_text(done.history)


def test_allergies_of_both_sides_are_joined() -> None:
    one, two = ({"allergies": [{"to": word}]} for word in ("honey", "iodine"))
    done = merge(record(patient=one), record(patient=two))
    assert [item["to"] for item in done.history.patient["allergies"]] == ["honey", "iodine"]


def test_a_zone_never_adds_an_offset_to_a_time_that_came_without_one() -> None:
    local = {**visit("V2"), "at": "2026-03-09T10:00:00"}
    done = merge(record(visit(), zone="America/Toronto"), record(local))
    assert done.history.visits[1]["at"] == "2026-03-09T10:00:00"
    assert "zone" not in done.history.data
    assert "America/Toronto" in all_text(done.history)
    assert merge(record(visit(), zone="America/Toronto"), record(visit("V2"))).history.data["zone"] == "America/Toronto"


ONE = {"system": "urn:example:clinic", "value": "C-1"}
OTHER = {"system": "urn:example:clinic", "value": "C-2"}
#: What the grades are is tested in tests/record/test_clients.py; here, that joining asks for them.
DIFFERENT = [
    ({"identifiers": [ONE]}, {"identifiers": [OTHER]}),
    ({"identifiers": [ONE], "born": "1948-03"}, {"identifiers": [ONE], "born": "1950"}),
    ({"name": {"text": "A"}, "born": "1948-03"}, {"name": {"text": "A"}, "born": "1948-03"}),
    ({}, {}),
]


@pytest.mark.parametrize(("a", "b"), DIFFERENT)
def test_two_clients_are_never_joined(a: dict[str, Any], b: dict[str, Any]) -> None:
    known, came = ({"woundfhir": 1, "patient": patient, "visits": [{"id": v}]} for patient, v in ((a, "V1"), (b, "V2")))
    with pytest.raises(InputError, match="Two clients are never joined") as caught:
        merge(History.of(known), History.of(came))
    assert "C-1" not in str(caught.value)
    assert "1948" not in str(caught.value)
    joined = merge(History.of(known), History.of(came), same_client=True)  # a person decides
    assert [one["id"] for one in joined.history.visits] == ["V1", "V2"]


_FINDING = {
    **{"resourceType": "Observation", "id": "l", "effectiveDateTime": AT, "subject": {"reference": "Patient/p"}},
    "code": {"coding": [{"system": "http://loinc.org", "code": "39126-8"}]},
    "valueQuantity": {"value": 4, "unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"},
}
_OTHERS = {"resourceType": "Patient", "id": "p", "identifier": [{"system": "urn:example:mrn", "value": "S-1"}]}


def of_others(status: str, version: str) -> History:
    finding = {**_FINDING, "status": status, "meta": {"versionId": version}}
    return from_fhir([_OTHERS, finding])[0]


@pytest.mark.parametrize(("fact", "withdrawn", "asked"), [("1", "2", True), ("2", "2", True), ("3", "2", False)])
def test_what_others_took_back_since_is_a_conflict_whichever_side_knows_it(
    fact: str, withdrawn: str, asked: bool
) -> None:
    """FHIR R4, Observation.status and Resource.meta.versionId: what is entered in error is no fact."""
    one, other = of_others("final", fact), of_others("entered-in-error", withdrawn)
    for known, came in ((one, other), (other, one)):
        done = merge(known, came)
        assert bool(done.conflicts) is asked
        again = merge(done.history, came)
        assert bool(again.conflicts) is asked and again.history.json() == done.history.json()
