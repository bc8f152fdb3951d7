"""Does it count? Every modifier of R4 and each of its codes, in every type that the record reads: all generated."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from tests.paths import DATA
from woundfhir.intake.counting import method, modified, modifiers, parts, verdict
from woundfhir.r4 import definitions

ROWS = [(one, code) for found in modifiers().values() for one in found for code in one.codes]
TOP = [(one, code) for one, code in ROWS if one.type in definitions.resource_types() and "." not in one.element]


def value_of(kind: str, system: str, code: str) -> Any:
    if kind == "boolean":
        return code == "true"
    if kind == "CodeableConcept":
        return {"coding": [{"system": system, "code": code}]}
    return code


def whole(type_name: str, **more: Any) -> dict[str, Any]:
    """A resource of which every modifier that must be there says the most ordinary thing."""
    made: dict[str, Any] = {"resourceType": type_name}
    for one in modifiers().get(type_name, ()):
        if one.required and "." not in one.element:
            ordinary = next(c for c, v in one.codes.items() if v.counts and not v.states & {"draft", "unknown"})
            made[one.element] = value_of(one.kind, one.system, ordinary)
    return {**made, **more}


def test_the_table_has_every_modifier_that_hl7_marks() -> None:
    """R4 4.0.1, read from HL7's package by script (the shared table)."""
    path: Path = DATA / "r4_modifiers.tsv"
    marked = {
        (row["resource"], "link.type" if row["element"] == "link" else row["element"]): row["codes"].split()
        for row in csv.DictReader(path.open("r", encoding="utf-8"), delimiter="\t")
        if "modifierExtension" not in row["element"] and row["element"] != "implicitRules"
    }
    ours = {(one.type, one.element): set(one.codes) for found in modifiers().values() for one in found}
    assert set(ours) == set(marked)
    for key, codes in marked.items():
        assert set(codes) <= ours[key], key


@pytest.mark.parametrize("one", [one for found in modifiers().values() for one in found if one.kind == "code"])
def test_the_codes_are_those_of_the_required_value_set(one: Any) -> None:
    """The table of R4's own definitions (hl7.fhir.r4.core 4.0.1)."""
    *around, name = one.element.split(".")
    type_name = ".".join([one.type, *around])
    element = definitions.elements(type_name)[name]
    allowed = {code for codes in definitions.codes(element.codes).values() for code in codes}
    assert set(one.codes) == allowed


@pytest.mark.parametrize(("one", "code"), [pair for pair in TOP if pair[0].kind != "boolean|dateTime"])
def test_every_code_has_its_outcome_and_an_unlisted_one_none(one: Any, code: str) -> None:
    made = whole(one.type, **{one.element: value_of(one.kind, one.system, code)})
    found = verdict(made)
    assert found.outcome == one.codes[code].outcome
    assert bool(found.why) is (not found.counts)
    if one.kind != "boolean":
        for other in (f"{code}x", "", code.upper()):
            assert verdict({**made, one.element: value_of(one.kind, one.system, other)}).outcome == "not understood"


@pytest.mark.parametrize("type_name", sorted({one.type for one, _ in TOP}))
def test_rules_and_extensions_that_modify_are_never_understood(type_name: str) -> None:
    made = whole(type_name)
    assert verdict(made).counts
    assert verdict({**made, "implicitRules": "urn:site:rules"}).outcome == "not understood"
    deep = {**made, "contained": [{"resourceType": "Basic", "extension": [{"modifierExtension": []}]}]}
    assert modified({**made, "modifierExtension": [{"url": "u"}]}) and modified(deep) and not modified(made)
    for one in modifiers()[type_name]:
        if one.required and "." not in one.element:
            assert verdict({k: v for k, v in made.items() if k != one.element}).outcome == "not understood"


def test_what_is_entered_in_error_refuted_or_not_done_is_no_fact_anywhere() -> None:
    bad = {"entered-in-error", "refuted", "cancelled", "revoked", "abandoned", "rejected", "not-done", "not-taken"}
    seen = [one.codes[code].outcome for one, code in ROWS if code in bad]
    assert len(seen) > 40
    assert "fact" not in seen


def test_words_and_other_systems_in_a_coded_status_are_not_understood() -> None:
    made = {"resourceType": "Condition", "verificationStatus": {"text": "confirmed"}}
    assert verdict(made).outcome == "not understood"
    old = {"coding": [{"system": "http://hl7.org/fhir/condition-ver-status", "code": "entered-in-error"}]}
    assert verdict({**made, "verificationStatus": old}).outcome == "withdrawn"
    system = "http://terminology.hl7.org/CodeSystem/condition-ver-status"
    two = {"coding": [{"system": system, "code": code} for code in ("confirmed", "refuted")]}
    assert verdict({**made, "verificationStatus": two}).outcome == "withdrawn"


@pytest.mark.parametrize(
    ("name", "outcome"),
    [
        ("POST", "fact"),
        ("PUT", "fact"),
        ("DELETE", "withdrawn"),
        ("PATCH", "not understood"),
        ("ERASE", "not understood"),
    ],
)
def test_the_method_of_a_request(name: str, outcome: str) -> None:
    assert method(name).outcome == outcome


def test_parts_that_do_not_count() -> None:
    plan = {
        "resourceType": "CarePlan",
        "activity": [
            {"detail": {"status": "scheduled"}},
            {"detail": {"status": "cancelled"}},
            {"detail": {"status": "scheduled", "doNotPerform": True}},
            {"detail": {"status": "odd"}},
        ],
    }
    assert [(where[1], one.outcome) for where, one in parts(plan)] == [
        (1, "withdrawn"),
        (2, "negated"),
        (3, "not understood"),
    ]
    client = {"identifier": [{"use": use, "value": "1"} for use in ("official", "old", "temp", "odd")]}
    assert [where[1] for where, _ in parts(client)] == [1, 2, 3]


@pytest.mark.parametrize(
    ("kind", "outcome", "counts"),
    [
        ("replaces", "fact", True),
        ("seealso", "fact", True),
        ("refer", "fact", False),
        ("replaced-by", "withdrawn", False),
        ("odd", "not understood", False),
        (None, "not understood", False),
    ],
)
def test_a_link_says_whether_the_client_and_the_link_count(kind: Any, outcome: str, counts: bool) -> None:
    """R4, Patient.link.type: of "replaced-by" the client "must no longer be used"; of "refer" another is the main."""
    link = {"type": kind, "other": {"reference": "Patient/x"}}
    client = {"resourceType": "Patient", "link": [{"type": "seealso"}, link]}
    assert verdict(client).outcome == verdict({**client, "link": link}).outcome == outcome
    assert [where for where, _ in parts(client)] == ([] if counts else [("link", 1)])
    assert verdict({"resourceType": "RelatedPerson", "link": [link]}).counts
    assert list(parts({"resourceType": "RelatedPerson", "link": [link]})) == []
    assert verdict({**client, "link": [link, "Patient/x"]}).counts is False


@pytest.mark.parametrize(
    ("said", "dead"),
    [
        ({}, False),
        ({"deceasedBoolean": False}, False),
        ({"deceasedBoolean": False, "_deceasedBoolean": {"id": "x"}}, False),
        ({"deceasedBoolean": True}, True),
        ({"deceasedDateTime": "2026-03"}, True),
        ({"_deceasedDateTime": {"extension": []}}, True),
        ({"_deceasedBoolean": {"extension": []}}, True),
    ],
)
def test_a_client_who_died_counts_and_is_known_to_have_died(said: Any, dead: bool) -> None:
    """R4, Patient.deceased[x]: a boolean or a time; where only an extension stands, somebody had something to say."""
    found = verdict({"resourceType": "Patient", **said})
    assert (found.counts, found.states) == (True, {"deceased"} if dead else frozenset())


@pytest.mark.parametrize("kind", ["Condition", "Encounter", "Procedure"])
def test_elements_of_a_client_a_plan_or_a_document_say_nothing_on_another_type(kind: str) -> None:
    odd = {
        "link": [{"type": "odd"}],
        "docStatus": "entered-in-error",
        "activity": [{"detail": {"status": "cancelled"}}],
    }
    assert verdict(whole(kind, **odd)).counts
    assert (
        list(parts({"resourceType": kind, **odd})) == list(parts({"resourceType": "AllergyIntolerance", **odd})) == []
    )


@pytest.mark.parametrize("status", ["preliminary", "amended", "final", "entered-in-error"])
def test_a_document_is_void_by_its_own_status(status: str) -> None:
    """R4, CompositionStatus, as DocumentReference.docStatus."""
    found = verdict({"resourceType": "DocumentReference", "status": "current", "docStatus": status})
    assert found.counts is (status != "entered-in-error")


CLINICAL = "http://terminology.hl7.org/CodeSystem/condition-clinical"


@pytest.mark.parametrize(
    ("codings", "outcome"),
    [
        ([(CLINICAL, "active")], "fact"),
        ([(None, "active")], "fact"),
        ([(CLINICAL, "active"), (CLINICAL, "odd")], "not understood"),
        ([(CLINICAL, "active"), ("urn:site", "odd")], "fact"),
        ([("urn:site", "active")], "not understood"),
        ([("zzz:site", "active")], "not understood"),
        ([], "not understood"),
        ([5], "not understood"),
        (5, "not understood"),
    ],
)
def test_a_coded_status_is_known_by_its_own_system(codings: Any, outcome: str) -> None:
    made = [{"code": c, **({"system": s} if s else {})} for s, c in codings] if codings not in ([5], 5) else codings
    found = verdict({"resourceType": "Condition", "clinicalStatus": {"coding": made}})
    assert found.outcome == outcome
    assert found.states == ({"final"} if outcome == "fact" else frozenset())


def test_a_code_of_another_system_that_withdraws_is_no_fact_beside_one_that_states() -> None:
    system = "http://terminology.hl7.org/CodeSystem/condition-ver-status"
    pairs = [
        [{"system": system, "code": "confirmed"}, {"system": other, "code": "refuted"}]
        for other in ("http://hl7.org/fhir/x", "urn:x")
    ]
    for codings in (*pairs, *(two[::-1] for two in pairs)):
        found = verdict({"resourceType": "Condition", "verificationStatus": {"coding": codings}})
        assert (found.outcome, found.states) == ("withdrawn", frozenset())


def test_facts_of_two_statuses_say_both() -> None:
    one, other = ({"coding": [{"code": code}]} for code in ("resolved", "unconfirmed"))
    found = verdict({"resourceType": "Condition", "clinicalStatus": one, "verificationStatus": other})
    assert (found.counts, found.states) == (True, {"past", "unconfirmed"})


@pytest.mark.parametrize(
    ("status", "outcome", "states"),
    [
        ("entered-in-error", "withdrawn", {"error"}),
        ("revoked", "withdrawn", set()),
        ("cancelled", "withdrawn", set()),
        ("not-done", "negated", {"negated"}),
        ("draft", "fact", set()),
        (None, "fact", set()),
    ],
)
def test_a_type_that_no_record_meets_is_judged_by_what_a_status_says_everywhere(
    status: Any, outcome: str, states: Any
) -> None:
    """R4, EventStatus and RequestStatus."""
    found = verdict({"resourceType": "Appointment", "status": status})
    assert (found.outcome, found.states, bool(found.why)) == (outcome, states, outcome != "fact")


def test_parts_of_another_shape_are_left_to_whoever_checks_the_structure() -> None:
    plan = {"resourceType": "CarePlan", "activity": [5, {}, {"detail": 5}, {"detail": {"status": "cancelled"}}]}
    assert [where for where, _ in parts(plan)] == [("activity", 3)]
    assert list(parts({**plan, "activity": plan["activity"][3]})) == []
    client = {"resourceType": "Patient", "name": [5, {"family": "Roe"}, {"use": "old"}], "identifier": {"use": "old"}}
    assert [where for where, _ in parts({**client, "link": {"type": "refer"}})] == [("name", 2)]
    assert [where for where, _ in parts({**client, "activity": plan["activity"]})] == [("name", 2)]


@pytest.mark.parametrize("what", [{"modifierExtension": []}, [{"x": [{"modifierExtension": []}]}]])
def test_an_extension_that_modifies_is_found_in_lists_of_lists(what: Any) -> None:
    assert modified(what) and modified({"extension": [[what]]})
    assert not modified("modifierExtension") and not modified([["modifierExtension"]])
