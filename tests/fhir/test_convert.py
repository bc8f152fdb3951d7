"""What comes from others: mapped as far as the record reaches, the rest kept verbatim, listed, and put back."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import msgspec
import pytest

from tests.paths import HL7_EXAMPLES, hl7_examples
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse
from woundfhir.r4 import xmlio

decode = msgspec.json.Decoder(float_hook=Decimal).decode
encode = msgspec.json.Encoder(decimal_format="number").encode
LOINC = "http://loinc.org"


def hl7(name: str) -> dict[str, Any]:
    return xmlio.decode((HL7_EXAMPLES / f"{name}.xml").read_bytes())


def assessment(*resources: dict[str, Any]) -> dict[str, Any]:
    history, _ = from_fhir(resources)
    return history.visits[0]["wounds"][0]["assessment"]  # type: ignore[no-any-return]


# -- HL7's skin and wound assessment guide (HL7/fhir-skin-wound-ig, 2020-06-30) -----------------------


def test_every_example_of_the_guide_is_read_and_nothing_of_it_is_lost() -> None:
    """Each resource goes out again as it came, whatever of it the record holds."""
    for path in hl7_examples():
        came = xmlio.decode(path.read_bytes())
        history, losses = from_fhir([came])
        assert encode(came) in map(encode, to_fhir(history)), path.name
        assert losses.understood <= losses.values
        assert bool(losses.items) or losses.understood == losses.values


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        (
            "Observation-woundsize-example",
            {
                "length": "4 cm",
                "width": "2 cm",
                "depth": "0.2 cm",
                "area": "4 cm2",
                "depth_words": "external",
                "measure_method": "caliper",  # DeviceExt 44056008
            },
        ),
        ("Observation-skinwoundedgedescription-example", {"edge": ["scab"]}),
        ("Observation-skinwoundexudateamountdescription-example", {"exudate_amount": "Moderate"}),
        ("Observation-skinwoundexudateappearance-example", {"exudate_type": "viscous"}),
        ("Observation-skinwoundexudatecolor-example", {"exudate_colour": "yellow"}),
        ("Observation-skinwoundexudateodor-example", {"odour": "offensive"}),
        ("Observation-skinwoundtunnelinglength-example", {"tunnels": [{"depth": "3 cm"}]}),
        ("Observation-skinwoundtunnelingdirection-example", {"tunnels": [{"clock": "1"}]}),
        ("Observation-skinwoundundermininglength-example", {"undermining": [{"depth": "4 cm"}]}),
    ],
)
def test_the_guides_observations_say_what_the_guide_says(name: str, expected: dict[str, Any]) -> None:
    assert assessment(hl7(name)) == expected


def test_the_guides_share_with_two_units_is_a_conflict_and_not_chosen() -> None:
    """The guide shows 72370-0 with the words cm2 and the code % (standards notes 1.1, errors to avoid copying)."""
    history, losses = from_fhir([hl7("Observation-skinwoundbedappearance-example")])
    assert history.visits[0]["wounds"][0]["assessment"] == {"tissue": "granulation"}
    assert [item.path for item in losses.items if item.kind == "conflict"] == ["Observation.component"]


def test_the_guides_wound_has_kind_site_and_side() -> None:
    history, _ = from_fhir([hl7("Condition-skinwoundassert-example")])
    (wound,) = history.wounds
    assert (wound["kind"], wound["site"], wound["side"], wound["status"]) == ("abrasion", "heel", "right", "open")


# -- other guides' shapes (standards notes, section 1) ----------------------------------------------


def observation(code: str, **more: Any) -> dict[str, Any]:
    return {
        "resourceType": "Observation",
        "id": code,
        "status": "final",
        "code": {"coding": [{"system": LOINC, "code": code}]},
        **more,
    }


def cm(value: str) -> dict[str, Any]:
    return {"value": Decimal(value), "unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"}


def test_length_and_width_as_observations_of_their_own_are_read() -> None:
    """The Netherlands (zib Wound): hasMember to separate length, width and depth."""
    found = assessment(
        observation("39126-8", valueQuantity=cm("4.10")), observation("39125-0", valueQuantity=cm("3.0"))
    )
    assert found == {"length": "4.10 cm", "width": "3.0 cm"}


@pytest.mark.parametrize(
    ("number", "read"),
    [("1E+2", "100 cm"), ("4.1e1", "41 cm"), ("4.10E-1", "0.410 cm"), ("4.1E+0", "4.1 cm"), ("4.10", "4.10 cm")],
)
def test_a_number_with_an_exponent_is_read_as_a_nurse_writes_it(number: str, read: str) -> None:
    """RFC 8259, section 6, and R4 decimal allow an exponent; on a sheet it is no length."""
    one = json.dumps(observation("39126-8", valueQuantity={"value": "N", "unit": "cm"})).replace('"N"', number)
    history = parse(one.encode(), "one.json").history
    assert history.visits[0]["wounds"][0]["assessment"] == {"length": read}
    (size,) = [made for made in to_fhir(history) if made["resourceType"] == "Observation" and "component" in made]
    assert size["component"][0]["valueQuantity"]["value"] == Decimal(number)


def test_a_finding_that_the_wound_names_as_evidence_belongs_to_that_wound() -> None:
    """The Netherlands: Condition.evidence.detail points at the findings."""
    wounds = [
        {
            "resourceType": "Condition",
            "id": f"w{n}",
            "code": {"coding": [{"system": "http://snomed.info/sct", "code": "416462003"}]},
            "evidence": [{"detail": [{"reference": f"Observation/o{n}"}]}],
        }
        for n in (1, 2)
    ]
    seen = [{**observation("39126-8", valueQuantity=cm(f"{n}.5")), "id": f"o{n}"} for n in (1, 2)]
    history, _ = from_fhir([*wounds, *seen])
    sizes = {e["wound"]: e["assessment"]["length"] for v in history.visits for e in v["wounds"]}
    assert sizes == {"w1": "1.5 cm", "w2": "2.5 cm"}


@pytest.mark.parametrize(
    ("legacy", "word"),
    [
        ("421076008", "stage 1"),
        ("420324007", "stage 2"),
        ("421927004", "stage 3"),
        ("420597008", "stage 4"),
        ("421594008", "unstageable"),
    ],
)
def test_retired_stages_are_read_and_current_ones_written(legacy: str, word: str) -> None:
    """SNOMED Editorial Guide, pressure injury: the old stage concepts are inactive."""
    came = {
        "resourceType": "Condition",
        "id": "w",
        "code": {"coding": [{"system": "http://snomed.info/sct", "code": "399912005"}]},
        "stage": [{"summary": {"coding": [{"system": "http://snomed.info/sct", "code": legacy}]}}],
    }
    history, _ = from_fhir([came])
    assert (history.wounds[0]["kind"], history.wounds[0]["stage"]) == ("pressure injury", word)
    history.data.pop("extra")
    (condition,) = [r for r in to_fhir(history) if r["resourceType"] == "Condition"]
    written = {c["code"] for c in condition["stage"][0]["summary"]["coding"] + condition["code"]["coding"]}
    assert legacy not in written and "399912005" not in written and "1163215007" in written


# -- nothing is lost ---------------------------------------------------------------------------------


def theirs() -> list[dict[str, Any]]:
    return [
        {"resourceType": "Patient", "id": "p", "birthDate": "1948-03", "maritalStatus": {"text": "widowed"}},
        {
            "resourceType": "Condition",
            "id": "c",
            "subject": {"reference": "Patient/p"},
            "code": {
                "coding": [
                    {"system": "urn:site", "code": "LEG"},
                    {"system": "http://snomed.info/sct", "code": "402863005"},
                ],
                "text": "leg, see drawing",
            },
        },
        {
            **observation("39116-9"),
            "subject": {"reference": "Patient/p"},
            "focus": [{"reference": "Condition/c"}],
            "effectiveDateTime": "2026-03-02",
            "valueCodeableConcept": {
                "coding": [{"system": "http://snomed.info/sct", "code": "6736007"}],
                "text": "mod plus",
            },
            "device": {"display": "eye"},
        },
        {
            "resourceType": "MedicationRequest",
            "id": "m",
            "status": "active",
            "intent": "order",
            "medicationCodeableConcept": {"text": "x"},
            "subject": {"reference": "Patient/p"},
        },
    ]


def test_what_is_not_understood_goes_out_as_it_came() -> None:
    came = theirs()
    history, losses = from_fhir(came)
    assert history.visits[0]["wounds"][0]["assessment"] == {"exudate_amount": "moderate"}
    assert "MedicationRequest" in {item.path for item in losses.items}
    out = {f"{r['resourceType']}/{r['id']}": r for r in to_fhir(history)}
    assert out["MedicationRequest/m"] == came[3]
    assert out["Patient/p"]["maritalStatus"] == {"text": "widowed"}
    assert out["Observation/39116-9"]["device"] == {"display": "eye"}
    assert out["Observation/39116-9"]["valueCodeableConcept"] == came[2]["valueCodeableConcept"]
    assert out["Observation/39116-9"]["focus"] == [{"reference": "Condition/c"}]
    assert out["Condition/c"]["code"] == came[1]["code"]


def test_a_second_reading_gives_the_same_record() -> None:
    history, _ = from_fhir(theirs())
    again, _ = from_fhir(decode(encode(to_fhir(history))))
    assert again.data == history.data


def test_an_edited_answer_is_never_overwritten_by_what_came() -> None:
    history, _ = from_fhir(theirs())
    history.visits[0]["wounds"][0]["assessment"]["exudate_amount"] = "large"
    (out,) = [r for r in to_fhir(history) if r["resourceType"] == "Observation" and "valueCodeableConcept" in r]
    assert out["valueCodeableConcept"]["text"] == "large"
    assert out["device"] == {"display": "eye"}
    again, _ = from_fhir(decode(encode(to_fhir(history))))
    assert any(item.get("element") == "valueCodeableConcept" and "mod plus" in item["came"] for item in again.extra)


@pytest.mark.parametrize("place", ["top", "component"])
def test_an_unknown_modifier_extension_is_not_interpreted_and_says_so(place: str) -> None:
    came = observation("39126-8", valueQuantity=cm("4"))
    extension = [{"url": "urn:site:negated", "valueBoolean": True}]
    if place == "top":
        came["modifierExtension"] = extension
    else:
        came["component"] = [{"code": {"text": "x"}, "modifierExtension": extension}]
    history, losses = from_fhir([came])
    assert not history.visits
    assert "modifierExtension" in losses.items[0].why
    assert decode(history.extra[0]["value"]) == came


def test_two_clients_are_never_joined_and_neither_is_named() -> None:
    two = [{"resourceType": "Patient", "id": n, "name": [{"family": "SecretName"}]} for n in ("a", "b")]
    with pytest.raises(InputError) as caught:
        from_fhir(two)
    assert "one client" in str(caught.value) and "SecretName" not in str(caught.value)


def test_losses_name_places_and_never_values() -> None:
    history, losses = from_fhir(theirs())
    said = "\n".join(losses.lines())
    assert "widowed" not in said and "mod plus" not in said
    assert history.extra
