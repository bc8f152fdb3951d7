"""What the inputs of guides are made of: codes, amounts, references, resources. Clients and values are invented."""

from __future__ import annotations

from typing import Any

Json = Any
SCT, LOINC, UCUM = "http://snomed.info/sct", "http://loinc.org", "http://unitsofmeasure.org"
ICD10CM, ICD10 = "http://hl7.org/fhir/sid/icd-10-cm", "http://hl7.org/fhir/sid/icd-10"
TERM = "http://terminology.hl7.org/CodeSystem"


def cc(system: str, code: str, display: str = "", text: str = "") -> Json:
    coding = {"system": system, "code": code, **({"display": display} if display else {})}
    return {"coding": [coding], **({"text": text} if text else {})}


def sct(code: str, display: str = "", text: str = "") -> Json:
    return cc(SCT, code, display, text)


def loinc(code: str, display: str = "", text: str = "") -> Json:
    return cc(LOINC, code, display, text)


def qty(value: float | int, unit: str, code: str | None = None) -> Json:
    return {"value": value, "unit": unit, "system": UCUM, "code": code or unit}


def ref(name: str, display: str = "") -> Json:
    return {"reference": name, **({"display": display} if display else {})}


def bundle(*resources: Json) -> Json:
    return {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": one} for one in resources]}


def patient(number: str = "p1", **more: Json) -> Json:
    return {
        "resourceType": "Patient",
        "id": number,
        "identifier": [{"system": "https://example.org/mrn", "value": f"M-{number}"}],
        "name": [{"use": "official", "family": "Varga", "given": ["Ilona", "Rose"], "prefix": ["Ms"]}],
        "gender": "female",
        "birthDate": "1947-05-12",
        **more,
    }


def practitioner(number: str = "n1") -> Json:
    return {
        "resourceType": "Practitioner",
        "id": number,
        "identifier": [{"system": "https://example.org/staff", "value": "S-77"}],
        "name": [{"family": "Okafor", "given": ["Ada"], "suffix": ["RN"]}],
        "telecom": [{"system": "phone", "value": "555-0133", "use": "work"}],
    }


def obs(number: str, code: Json, value: Json = None, **more: Json) -> Json:
    made = {
        "resourceType": "Observation",
        "id": number,
        "status": "final",
        "category": [cc(f"{TERM}/observation-category", "exam", "Exam")],
        "code": code,
        "subject": ref("Patient/p1"),
        "effectiveDateTime": "2026-02-03T10:15:00-05:00",
        "performer": [ref("Practitioner/n1")],
    }
    return {**made, **(value or {}), **more}


def condition(number: str, code: Json, **more: Json) -> Json:
    return {
        "resourceType": "Condition",
        "id": number,
        "clinicalStatus": cc(f"{TERM}/condition-clinical", "active", "Active"),
        "verificationStatus": cc(f"{TERM}/condition-ver-status", "confirmed", "Confirmed"),
        "code": code,
        "subject": ref("Patient/p1"),
        **more,
    }


def quantity(value: float | int, unit: str = "cm") -> Json:
    return {"valueQuantity": qty(value, unit)}


def coded(concept: Json) -> Json:
    return {"valueCodeableConcept": concept}
