"""Two resources of one id that differ, and nothing says which is newer: one thing, and a conflict shown with both.

Source: HL7 FHIR R4, Resource.id (unique within one server), and issue 10, "two values for one place are a conflict".
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.foreign.inputs import CONTESTED, client, length, wound
from tests.intake.foreign.test_laws import decode, encode, said
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.fhir.came import Came
from woundfhir.fhir.reasons import SUPERSEDED
from woundfhir.intake.contested import contest
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse

Json = Any


@pytest.mark.parametrize("name", sorted(CONTESTED))
def test_both_are_a_conflict_and_both_are_kept(name: str) -> None:
    came = CONTESTED[name][0]
    history, losses = from_fhir(came)
    assert losses.of("conflict") or name == "forms of one client"  # what only one of them says
    out = decode(encode(to_fhir(history)))
    assert all(decode(encode(one)) in out for one in came)
    assert all(one["id"] in ("w", "W1") for one in history.wounds)


def test_what_they_say_differently_is_not_chosen() -> None:
    history, _ = from_fhir(CONTESTED["places of a wound"][0])
    assert history.wounds[0]["site"] == {"absent": "two different values came"}
    assert "status" not in from_fhir(CONTESTED["states of a wound"][0])[0].wounds[0]
    assert from_fhir(CONTESTED["nurses"][0])[0].visits[0]["by"] == {"id": "Practitioner/n"}


def test_no_allergy_is_taken_away() -> None:
    pair = [
        {"resourceType": "AllergyIntolerance", "id": "a", "patient": {"reference": "Patient/p"}, "code": {"text": text}}
        for text in ("honey", "iodine")
    ]
    history, losses = from_fhir([client(), *pair])
    assert [one["to"] for one in history.patient["allergies"]] == ["honey", "iodine"]
    assert losses.of("conflict")


def test_a_refuted_version_follows_the_asserted_one() -> None:
    refuted = wound("w", verificationStatus={"coding": [{"code": "refuted"}]})
    history, losses = from_fhir([client(), wound("w"), refuted, length("l", 4, focus=[{"reference": "Condition/w"}])])
    assert history.wounds == [] and losses.of("withdrawn")


def test_two_persons_under_one_id_are_refused() -> None:
    with pytest.raises(InputError, match="two are never joined"):
        from_fhir([client(), client(birthDate="1950"), length("l", 4)])


@pytest.mark.parametrize("kind", ["Condition", "Encounter", "Observation", "Procedure", "Practitioner"])
def test_of_ours_too_there_is_one(kind: str) -> None:
    """Two exports of one note, edited at two places, in one file."""
    history = parse(story(), "story").history
    out = decode(encode(to_fhir(history)))
    first = next(one for one in out if one["resourceType"] == kind)
    element = {"Condition": "onsetDateTime", "Encounter": "period", "Practitioner": "name"}.get(kind, "note")
    value = {"onsetDateTime": "1999", "period": {"start": "1999"}, "name": [{"text": "Bea Doe"}]}.get(
        element, [{"text": "another"}]
    )
    again, losses = from_fhir([*out, {**first, element: value}])
    assert [one["id"] for one in again.wounds] == [one["id"] for one in history.wounds]
    assert len(again.visits) == len(history.visits)
    assert losses.of("conflict") or losses.of("kept")
    third, _ = from_fhir(decode(encode(to_fhir(again))))
    assert said(third) == said(again)


def test_a_control_character_in_an_id_is_refused_where_it_stands() -> None:
    with pytest.raises(InputError, match="id of a Patient holds a control character") as caught:
        from_fhir([{"resourceType": "Patient", "id": "a\nERROR: forged"}])
    assert "forged" not in str(caught.value)


REACHED = [{"value": "1"}, {"value": "2"}]


@pytest.mark.parametrize("kind", ["CareTeam", "Organization", "Patient", "PractitionerRole", "SupplyDelivery"])
def test_lists_of_a_client_hold_all_that_came_and_of_others_what_differs_is_left_out(kind: str) -> None:
    """R4, Patient.telecom: a client may have several; what else two versions list is contradicted."""
    one, other = ({"resourceType": kind, "id": "x", "language": "en", "telecom": [phone]} for phone in REACHED)
    versions = [Came(some, some) for some in (one, {**other, "alias": ["y"]})]
    contest(versions)
    kept = {"resourceType": kind, "id": "x", "language": "en", "alias": ["y"]}
    assert versions[0].view == (kept | {"telecom": REACHED} if kind == "Patient" else kept)
    assert [name for name, _ in versions[0].left] == ([] if kind == "Patient" else ["telecom"])
    assert (versions[0].reason, versions[1].same_as) == (None, versions[0])
    assert versions[1].reason is not None and versions[1].reason.kind == "conflict"


@pytest.mark.parametrize("kind", ["CareTeam", "Practitioner"])
def test_what_tells_two_clients_apart_tells_no_others(kind: str) -> None:
    """R4, Resource.id: two nurses of one id are one nurse; of a client a person decides."""
    versions = [
        Came(some, some) for some in ({"resourceType": kind, "id": "x", "birthDate": day} for day in ("1948", "1950"))
    ]
    contest(versions)
    assert ([name for name, _ in versions[0].left], versions[1].same_as) == (["birthDate"], versions[0])


@pytest.mark.parametrize(
    ("more", "left", "reasons"),
    [
        ({"valueString": "5"}, [], [None, None]),
        ({"note": [{"text": "x"}]}, [], [None, None]),
        ({"effectiveDateTime": "2026-03-05"}, [], ["conflict", "conflict"]),
        ({"effectiveDateTime": "2026-03-05", "valueString": "5"}, [], ["conflict", "conflict"]),
        ({"meta": {"source": "urn:x"}}, [], [None, "kept"]),
        ({"device": {"display": "x"}}, [], [None, "kept"]),
    ],
)
def test_of_two_findings_the_values_may_differ_and_nothing_else(more: Json, left: list[str], reasons: Json) -> None:
    """Two values of one place are a conflict in the record; where the place itself differs, neither is read."""
    one = {"resourceType": "Observation", "id": "x", "effectiveDateTime": "2026-03-02", "valueString": "4"}
    one |= {"note": [{"text": "y"}], "status": "final"}
    versions = [Came(some, some) for some in (one, {**one, **more})]
    contest(versions)
    assert [None if some.reason is None else some.reason.kind for some in versions] == reasons
    assert [name for some in versions for name, _ in some.left] == left


def test_what_has_a_reason_already_contests_nothing() -> None:
    one, other = ({"resourceType": "CareTeam", "id": "x", "name": name} for name in "ab")
    versions = [Came(one, one), Came(other, other, reason=SUPERSEDED)]
    contest(versions)
    assert versions[0].left == [] and versions[1].same_as is None


@pytest.mark.parametrize(
    ("one", "other", "differ"),
    [
        ("Practitioner/n", "http://x.example.org/fhir/Practitioner/n", False),
        ("Practitioner/n", "Practitioner/n/_history/2", False),
        ("Practitioner/n", "Practitioner/m", True),
        ("Practitioner/n", "Organization/n", True),
    ],
)
def test_an_address_or_a_version_more_is_the_same_reference(one: str, other: str, differ: bool) -> None:
    """R4, references: literal references may be relative, absolute, or of a version."""
    made = [{"resourceType": "CareTeam", "id": "x", "encounter": {"reference": literal}} for literal in (one, other)]
    versions = [Came(some, some) for some in made]
    contest(versions)
    assert [name for name, _ in versions[0].left] == (["encounter"] if differ else [])
