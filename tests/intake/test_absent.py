"""A value that only says why there is none, in all the ways in which R4 and other guides write that.

R4, Observation.dataAbsentReason; the extension data-absent-reason, which may stand on any element; HL7 v3 NullFlavor.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.facts import aside, read
from tests.intake.foreign.inputs import LOINC, UCUM, client, cm, coded, length, wound
from tests.intake.two_clients import ref
from woundfhir.intake.absence import parts, reason, with_reason

Json = Any
REASONS = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
FLAVORS = "http://terminology.hl7.org/CodeSystem/v3-NullFlavor"
OF_W = {"focus": [ref("Condition/w")]}
NOT_ASKED = {"coding": [{"system": REASONS, "code": "not-asked"}]}
LENGTH, WIDTH = ({"code": coded(code, system=LOINC)} for code in ("39126-8", "39125-0"))
MIXED = {"valueQuantity": {"value": 4, "unit": "cm", "system": UCUM, "code": "mm"}}


def marked(code: str = "not-asked", url: str = "http://hl7.org/fhir/StructureDefinition/data-absent-reason") -> Json:
    return {"extension": [{"url": url, "valueCode": code}]}


def flavor(code: str, **more: Json) -> Json:
    return {"valueCodeableConcept": {**coded(code, system=FLAVORS), **more}}


SAYS_WHY: dict[str, tuple[Json, Json]] = {
    "a reason of R4 as the value": ({"valueCodeableConcept": NOT_ASKED}, NOT_ASKED),
    "a reason of v3 as the value": (flavor("NASK"), NOT_ASKED),
    "a reason of v3 that R4 does not have": (flavor("XX", text="odd"), {"text": "odd"}),
    "a reason of v3 that R4 does not have, without words": (flavor("NI"), {"text": "no information"}),
    "a second code is the reason": (
        {"valueCodeableConcept": {"coding": [{"system": "urn:x", "code": "1"}, *NOT_ASKED["coding"]]}},
        NOT_ASKED,
    ),
    "an extension on a quantity": ({"valueQuantity": marked()}, NOT_ASKED),
    "an extension on a concept": ({"valueCodeableConcept": marked()}, NOT_ASKED),
    "an extension on a plain value": ({"_valueString": marked()}, NOT_ASKED),
    "an extension on a plain value of another type": ({"_valueBoolean": marked()}, NOT_ASKED),
}
SAYS_A_VALUE: dict[str, Json] = {
    "v3 says that there is another": flavor("OTH", text="see note"),
    "a code of SNOMED CT": {"valueCodeableConcept": coded("NASK")},
    "a code of a site": {"valueCodeableConcept": coded("unknown", system="urn:site")},
    "an extension beside the value": {"valueString": "4", "_valueString": marked()},
    "an extension in a quantity with a value": {"valueQuantity": {**cm(4), **marked()}},
    "an extension in a concept with words": {"valueCodeableConcept": {"text": "large", **marked()}},
    "an extension beside a true": {"valueBoolean": True, "_valueBoolean": marked()},
    "another extension": {"valueQuantity": marked(url="urn:x")},
    "nothing": {},
    "an extension on what is no value": {"_issued": marked()},
}


@pytest.mark.parametrize("name", SAYS_WHY)
def test_it_is_read_as_the_reason_why_there_is_no_value(name: str) -> None:
    value, expected = SAYS_WHY[name]
    assert with_reason({"resourceType": "Observation", **value}) == {
        "resourceType": "Observation",
        "dataAbsentReason": expected,
    }
    whole = {"resourceType": "Observation", "component": [{**LENGTH, **value}, {**WIDTH, "valueQuantity": cm(3)}, 5]}
    assert with_reason(whole)["component"] == [{**LENGTH, "dataAbsentReason": expected}, *whole["component"][1:]]


@pytest.mark.parametrize("name", SAYS_A_VALUE)
def test_what_says_a_value_is_left_alone(name: str) -> None:
    one = {"resourceType": "Observation", **SAYS_A_VALUE[name]}
    assert with_reason(one) is one
    whole = {"resourceType": "Observation", "component": [SAYS_A_VALUE[name]]}
    assert with_reason(whole) is whole


def length_of(**value: Json) -> Json:
    return {key: one for key, one in {**length("l", 4), **OF_W, **value}.items() if one is not None}


@pytest.mark.parametrize("name", SAYS_WHY)
def test_it_is_no_length(name: str) -> None:
    value, expected = SAYS_WHY[name]
    (facts,) = read(client(), wound("w"), length_of(**{"valueQuantity": None, **value}))
    said = "not asked" if expected is NOT_ASKED else expected["text"]
    assert facts == [f"2026-03-02 final w length {{'absent': '{said}'}}"]


CONTRADICTS: dict[str, tuple[Json, str]] = {
    "a value and a reason": ({"dataAbsentReason": NOT_ASKED}, "a value, and beside it a reason why there is none"),
    "two values": ({"valueString": "4 cm"}, "two values, where FHIR R4 has one"),
    "two units": (MIXED, "a unit in words, and another in its code"),
}
AGREES: dict[str, Json] = {
    **{f"a bound {one}": {"valueQuantity": {**cm(4), "comparator": one}} for one in ("<", "<=", ">=", ">")},
    "one unit": {"valueQuantity": cm(4)},
    "a unit that is no unit of ours": {"valueQuantity": {**cm(4), "unit": "centimetres"}},
    "a code that is no unit of ours": {"valueQuantity": {**cm(4), "code": "km"}},
    "a code of another system": {"valueQuantity": {**MIXED["valueQuantity"], "system": "urn:x"}},
    "no code": {"valueQuantity": {"value": 4, "unit": "cm"}},
    "no unit in words": {"valueQuantity": {"value": 4, "system": UCUM, "code": "cm"}},
    "a unit under another name of it": {"valueQuantity": {**cm(4), "unit": "centimeter"}},
    "a reason alone": {"dataAbsentReason": NOT_ASKED},
}


@pytest.mark.parametrize("name", CONTRADICTS)
def test_what_contradicts_itself_is_no_fact_and_leaves_the_other_parts(name: str) -> None:
    value, why = CONTRADICTS[name]
    came = [client(), wound("w"), length_of(**value)]
    assert read(*came) == [[]]
    assert aside(*came) == {f"conflict Observation/l: conflict: {why}"}
    whole = {"resourceType": "Observation", "component": [{"valueQuantity": cm(3)}, {"valueQuantity": cm(4), **value}]}
    left, found = parts(whole)
    assert left["component"] == [{"valueQuantity": cm(3)}, {"code": {}}]
    assert [(where, one.why) for where, one in found] == [("component[1]", why)]


@pytest.mark.parametrize("name", AGREES)
def test_what_does_not_contradict_itself_is_left_alone(name: str) -> None:
    assert reason({"resourceType": "Observation", "status": "final", **AGREES[name]}) is None
    whole = {"resourceType": "Observation", "component": [AGREES[name], 5]}
    assert parts(whole) == (whole, [])


def test_a_comparator_that_r4_does_not_have_is_not_understood() -> None:
    """R4, QuantityComparator; R5 has "ad" (sufficient to achieve this total) too."""
    came = [client(), wound("w"), length_of(valueQuantity={**cm(4), "comparator": "ad"})]
    assert read(*came) == [[]]
    why = "valueQuantity.comparator: a code that is not known"
    assert aside(*came) == {f"not-understood Observation/l: not understood: {why}"}


@pytest.mark.parametrize(
    ("status", "more", "holds"),
    [
        ("registered", {"valueQuantity": cm(4)}, False),
        ("registered", {"component": [5, {"valueQuantity": cm(4)}]}, False),
        ("registered", {"component": [5, {}]}, True),
        ("registered", {}, True),
        ("final", {"valueQuantity": cm(4)}, True),
        ("unknown", {"component": [{"valueQuantity": cm(4)}]}, True),
    ],
)
def test_a_result_that_is_only_registered_has_no_value_yet(status: str, more: Json, holds: bool) -> None:
    """R4, ObservationStatus: of "registered", "there is no result yet available"."""
    found = reason({"resourceType": "Observation", "status": status, **more})
    assert (found is None) is holds


IPS = "http://hl7.org/fhir/uv/ips/CodeSystem/absent-unknown-uv-ips"
STATED: dict[str, tuple[Json, str | None]] = {
    "unknown, of R4": ({"coding": [{"system": REASONS, "code": "unknown"}]}, "its code says only that it is not known"),
    "unknown, of v3": (coded("UNK", system=FLAVORS), "its code says only that it is not known"),
    "not asked, of v3": (coded("NASK", system=FLAVORS), "its code says only that it is not known"),
    "another, of v3": ({**coded("OTH", system=FLAVORS), "text": "leg ulcer"}, None),
    "an extension": (marked(), "its code says only that it is not known"),
    "none of one kind": (
        coded("no-known-medication-allergies", system=IPS),
        "its code says that there is none, or that nothing is known, of one kind",
    ),
    "words for unknown": ({"text": "Unknown"}, "its words say only that it is not known"),
    "words that deny": ({"text": "No wounds"}, "its words deny it"),
    "a display that denies": (
        {"coding": [{"system": "urn:x", "code": "1", "display": "No ulcer"}]},
        "its words deny it",
    ),
    "a fact": ({"text": "Leg ulcer"}, None),
    "nothing": ({}, None),
}


@pytest.mark.parametrize("kind", ["Condition", "AllergyIntolerance", "Procedure"])
@pytest.mark.parametrize("name", STATED)
def test_a_condition_or_allergy_that_is_only_denied_is_no_fact(name: str, kind: str) -> None:
    code, expected = STATED[name]
    found = reason({"resourceType": kind, "code": code})
    assert (found.why if found is not None else None) == (expected if kind != "Procedure" else None)


@pytest.mark.parametrize(
    ("kind", "code", "key"),
    [("AllergyIntolerance", "no-known-allergies", "allergies"), ("Condition", "no-known-problems", "conditions")],
)
def test_none_known_at_all_is_an_answer_of_its_own_list(kind: str, code: str, key: str) -> None:
    """IPS: no-known-allergies and no-known-problems; a list says nothing of the other."""
    stated = {"resourceType": kind, "code": coded(code, system=IPS)}
    assert with_reason(stated) != stated
    assert reason(with_reason(stated)) is None
    other = {**stated, "resourceType": "Condition" if kind == "AllergyIntolerance" else "AllergyIntolerance"}
    assert with_reason(other) is other
    for system in ("http://a.example.org/codes", "urn:x"):
        alike = {"resourceType": kind, "code": coded(code, system=system)}
        assert with_reason(alike) is alike


@pytest.mark.parametrize("text", ["History of rash to honey", "At risk of rash to honey", "Mother: rash to honey"])
def test_of_an_allergy_the_past_a_risk_and_a_relative_are_left_to_whoever_reads(text: str) -> None:
    """An allergy is never taken away by words that only a person can weigh; a wound of the past is none of today."""
    assert reason({"resourceType": "AllergyIntolerance", "code": {"text": text}}) is None
    assert reason({"resourceType": "Condition", "code": {"text": text}}) is not None
