"""What is wrong with resources in the light of the catalogue: profiles, codes, displays and units, each at its place.

R4: Meta.profile, Coding.system, Coding.display, Quantity.unit and code (UCUM).
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.foreign.inputs import LOINC, UCUM, bundle, client, coded, length, obs
from woundfhir.intake.faults import faults

Json = Any
OURS, OWN = "https://w3id.org/woundfhir/StructureDefinition/", "https://w3id.org/woundfhir/CodeSystem/wound-care"
WRONG = coded("lenght", system=OWN)
LENGTH = coded("39126-8", "Length of Wound", LOINC)


def claims(*profiles: Json) -> Json:
    return {"meta": {"profile": [*profiles]}}


def quantity(unit: str, code: Json, system: str = UCUM) -> Json:
    return obs("l", "x", valueQuantity={"value": 4, "unit": unit, "system": system, "code": code})


def value(concept: Json, **more: Json) -> Json:
    return obs("l", "x", valueCodeableConcept=concept, **more)


AT = "Observation.valueCodeableConcept.coding[0]"
#: Case -> what came, and the severity, key and place of each fault.
CASES: dict[str, tuple[list[Json], list[tuple[str, str, str]]]] = {
    "a profile of ours": ([client(**claims(f"{OURS}patient"))], []),
    "a profile of ours, with a version": ([client(**claims(f"{OURS}patient|0.1.0"))], []),
    "a profile of ours of another type": (
        [length("l", 4, **claims(f"{OURS}patient|1"))],
        [("error", "profile", "Observation.meta.profile[0]")],
    ),
    "a name that none of ours has": (
        [client(**claims("http://hl7.org/fhir/x", f"{OURS}zzz"))],
        [("error", "profile", "Patient.meta.profile[1]")],
    ),
    "a profile that nobody here knows, once": (
        [client(**claims("http://site/x")), length("l", 4, **claims("http://site/x|2", 5, "http://site/y"))],
        [
            ("warning", "profile", "[0].Patient.meta.profile[0]"),
            ("warning", "profile", "[1].Observation.meta.profile[2]"),
        ],
    ),
    "published profiles": (
        [client(**claims("http://hl7.org/fhir/x", "https://hl7.org/x", "https://profiles.ihe.net/x"))],
        [],
    ),
    "a code that our list does not have": ([value(WRONG)], [("error", "code-invalid", f"{AT}.code")]),
    "in a Bundle": (
        [bundle("collection", client(), value(WRONG))],
        [("error", "code-invalid", "Bundle.entry[1].resource.valueCodeableConcept.coding[0].code")],
    ),
    "in the second part of the second": (
        [client(), obs("l", "x", component=[{"code": {}}, {"code": WRONG}])],
        [("error", "code-invalid", "[1].Observation.component[1].code.coding[0].code")],
    ),
    "the second of two codes": (
        [value({"coding": [*LENGTH["coding"], *WRONG["coding"]]})],
        [("error", "code-invalid", "Observation.valueCodeableConcept.coding[1].code")],
    ),
    "a code of a list that is not ours": ([value(coded("lenght", system="urn:site"))], []),
    "no system": ([value({"coding": [{"code": "x"}]})], [("warning", "code-system", f"{AT}.system")]),
    "a system that is said to be unknown": ([value({"coding": [{"code": "x", "_system": {"extension": []}}]})], []),
    "in a list of concepts": (
        [obs("l", "x", category=[{}, WRONG])],
        [("error", "code-invalid", "Observation.category[1].coding[0].code")],
    ),
    "in what has entries and is no Bundle": (
        [{"resourceType": kind, "entry": [{}], "code": WRONG} for kind in ("List", "Account")],
        [("error", "code-invalid", f"{at}.code.coding[0].code") for at in ("[0].List", "[1].Account")],
    ),
    "codings of other shapes": ([value({"coding": ["x", {"system": OWN}, {"system": 5, "code": "x"}]})], []),
    "another display, of others": ([value(coded("39126-8", "Width of Wound", LOINC))], []),
    "another display, of ours": (
        [value(coded("39126-8", "Width of Wound", LOINC), **claims(f"{OURS}assessment-panel"))],
        [("error", "display", f"{AT}.display")],
    ),
    "its display in other letters, of ours": (
        [value(coded("39126-8", " length of  WOUND ", LOINC), **claims(f"{OURS}assessment-panel"))],
        [],
    ),
    "one unit": ([quantity("cm", "cm")], []),
    "one unit, in a word": ([quantity(" centimeters ", "cm")], []),
    "two units": ([quantity("cm", "mm")], [("error", "unit", "Observation.valueQuantity.code")]),
    "a unit and what is none": ([quantity("cm", "zz")], [("error", "unit", "Observation.valueQuantity.code")]),
    "two names of one size": ([quantity("mL", "cm3")], []),
    "two units of one kind": ([quantity("mL", "L")], [("error", "unit", "Observation.valueQuantity.code")]),
    "a unit that is not known": ([quantity("furlong", "[fur_us]")], []),
    "a code of another system": ([quantity("cm", "mm", "urn:site")], []),
    "a code of another shape": ([quantity("cm", 5)], []),
    "what is no resource": (["x", None, {"resourceType": 5, "code": WRONG}],
                            [("error", "code-invalid", "[2].resource.code.coding[0].code")]),
    "entries of other shapes": ([{"resourceType": "Bundle", "entry": [5, {"resource": 5}, {"resource": value(WRONG)}]}],
                                [("error", "code-invalid", f"Bundle.entry[2].resource.{AT.partition('.')[2]}.code")]),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_each_fault_is_named_at_its_place(name: str) -> None:
    came, expected = CASES[name]
    assert [(one.severity, one.key, one.path) for one in faults(came)] == expected


def test_a_value_stands_in_a_fault_only_on_request() -> None:
    came = [value(WRONG, **claims(f"{OURS}zzz")), quantity("cm", "zz")]
    assert [one.found for one in faults(came)] == ["none of this name", "another", "another unit"]
    shown = [one.found for one in faults(came, show_values=True)]
    assert all(word in text for word, text in zip(("zzz", "lenght", "zz"), shown, strict=True))
