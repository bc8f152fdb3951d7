"""Inputs of two people, as a stranger would send them: A has a length of 1.11 cm, B one of 2.22 cm.

Invented; the shapes are those of FHIR R4 (references, http, search, bundle) and of tables as agencies keep them.
"""

from __future__ import annotations

import copy
import json
from typing import Any

from tests.intake.foreign.inputs import bundle, client, length, wound

Json = Any
A, B = "1.11", "2.22"
CARD = "urn:example:card"
UUID = "00000000-0000-4000-8000-00000000000b"
SERVER = "http://one.example.org/fhir"


def ref(name: str) -> Json:
    return {"reference": name}


def logical(value: str, system: str | None = CARD, **more: Json) -> Json:
    return {"identifier": {**({"system": system} if system else {}), "value": value}, **more}


def sized(name: str, size: str, of: Json, **more: Json) -> Json:
    return length(name, float(size), of=of, **more)


def two(one: Json, other: Json) -> list[Json]:
    """A length each, said of two subjects; nothing else came."""
    return [sized("a", A, one), sized("b", B, other)]


def person(key: str, *numbers: tuple[str, str], **more: Json) -> Json:
    return client(key, identifier=[{"system": s, "value": v} for s, v in numbers], **more)


ABSENT = {"extension": [{"url": "http://hl7.org/fhir/StructureDefinition/data-absent-reason", "valueCode": "unknown"}]}
#: Resources, read together as one input.
RESOURCES: dict[str, list[Json]] = {
    "two references that lead nowhere": two(ref("Patient/111"), ref("Patient/222")),
    "one id on two servers": two(ref(f"{SERVER}/Patient/1"), ref("http://two.example.org/fhir/Patient/1")),
    "two urn:uuid": two(ref("urn:uuid:00000000-0000-4000-8000-00000000000a"), ref(f"urn:uuid:{UUID}")),
    "two numbers of one system": two(logical("1"), logical("2")),
    "one number in two systems": two(logical("1", "urn:a"), logical("1", "urn:b")),
    "one number, once without a system": two(logical("1"), logical("1", None)),
    "a bar in the system, or in the number": two(logical("c", "urn:a|b"), logical("b|c", "urn:a")),
    "two names in words": two({"display": "Ann Doe"}, {"display": "Eve Doe"}),
    "a reference, and a name in words": two(ref("Patient/111"), {"display": "Eve Doe"}),
    "a reference, and a number": two(ref("Patient/111"), logical("2")),
    "a number, and 'unknown'": two(logical("1"), logical("unknown")),
    "letters of an id": two(ref("Patient/a"), ref("Patient/A")),
    "an id and a longer one": two(ref("Patient/1"), ref("Patient/11")),
    "two Patients": [client("a"), client("b"), *two(ref("Patient/a"), ref("Patient/b"))],
    "two Patients of one birth and name": [
        client(key, name=[{"family": "Doe"}]) for key in "ab"
    ] + two(ref("Patient/a"), ref("Patient/b")),
    "two Patients with one number": [
        person("a", (CARD, "1")), person("b", (CARD, "1")), *two(ref("Patient/a"), ref("Patient/b")),
    ],
    "two Patients with one number, and one who has it": [
        person("a", (CARD, "1")), person("b", (CARD, "1")), *two(logical("1"), ref("Patient/b")),
    ],
    "two Patients, number 0000": [
        person("a", (CARD, "0000")), person("b", (CARD, "0000")), *two(ref("Patient/a"), ref("Patient/b")),
    ],
    "a Patient whose number is unknown, and 'unknown'": [
        person("a", (CARD, "unknown")), *two(ref("Patient/a"), logical("unknown")),
    ],
    "a Patient, and a reference to another": [client("a"), *two(ref("Patient/a"), ref("Patient/b"))],
    "a Patient, and the number of another": [person("a", (CARD, "1")), *two(ref("Patient/a"), logical("2"))],
    "a Patient, and their number in another system": [
        person("a", (CARD, "1")), *two(ref("Patient/a"), logical("1", "urn:other")),
    ],
    "a Patient, and somebody unknown": [client("a"), *two(ref("Patient/a"), ABSENT)],
    "a Patient, their id on another server": [
        client("a"), *two(ref("Patient/a"), ref("http://two.example.org/fhir/Patient/a")),
    ],
    "two Patients under one id": [
        client("a", birthDate="1948"), client("a", birthDate="1950"), *two(ref("Patient/a"), ref("Patient/b")),
    ],
    "a withdrawn Patient and another": [
        client("a"), client("b", active=False), *two(ref("Patient/a"), ref("Patient/b")),
    ],
    "a Patient who replaces another": [
        client("a", link=[{"other": ref("Patient/b"), "type": "replaces"}]), client("b"),
        *two(ref("Patient/a"), ref("Patient/b")),
    ],
    "contained Patients": [
        {**sized(key, size, ref("#p")), "contained": [{"resourceType": "Patient", "id": "p", "birthDate": born}]}
        for key, size, born in (("a", A, "1948"), ("b", B, "1950"))
    ],
    "a wound each, on one place": [
        wound("wa", of=ref("Patient/a")), wound("wb", of=ref("Patient/b")),
        sized("a", A, ref("Patient/a"), focus=[ref("Condition/wa")]),
        sized("b", B, ref("Patient/b"), focus=[ref("Condition/wb")]),
    ],
    "a finding of B that points at the wound of A": [
        wound("wa", of=ref("Patient/a")),
        sized("a", A, ref("Patient/a"), focus=[ref("Condition/wa")]),
        sized("b", B, ref("Patient/b"), focus=[ref("Condition/wa")]),
    ],
    "one encounter for both": [
        sized(key, size, ref(f"Patient/{key}"), encounter=ref("Encounter/e")) for key, size in (("a", A), ("b", B))
    ],
    "one nurse for both": [
        {"resourceType": "Practitioner", "id": "n", "name": [{"text": "N"}]},
        sized("a", A, ref("Patient/a"), performer=[ref("Practitioner/n")]),
        sized("b", B, ref("Patient/b"), performer=[ref("Practitioner/n")]),
    ],
    "a panel of A with a member of B": [
        {**sized("a", A, ref("Patient/a")), "hasMember": [ref("Observation/b")]}, sized("b", B, ref("Patient/b")),
    ],
    "a List of both": [
        {"resourceType": "List", "id": "l", "status": "current", "mode": "working",
         "entry": [{"item": ref("Observation/a")}, {"item": ref("Observation/b")}]},
        *two(ref("Patient/a"), ref("Patient/b")),
    ],
    "a Provenance over both": [
        {"resourceType": "Provenance", "id": "p", "target": [ref("Observation/a"), ref("Observation/b")],
         "recorded": "2026-03-02T10:05:00Z", "agent": [{"who": {"display": "N"}}]},
        *two(ref("Patient/a"), ref("Patient/b")),
    ],
    "a withdrawn finding of B": [sized("a", A, ref("Patient/a")),
                                 {**sized("b", B, ref("Patient/b")), "status": "entered-in-error"}],
    "an allergy of B": [
        client("a"), sized("a", A, ref("Patient/a")),
        {"resourceType": "AllergyIntolerance", "id": "b", "patient": ref("Patient/b"), "code": {"text": f"honey {B}"}},
    ],
    "a form of B": [
        client("a"), sized("a", A, ref("Patient/a")),
        {"resourceType": "QuestionnaireResponse", "id": "b", "status": "completed", "subject": ref("Patient/b"),
         "item": [{"linkId": "x", "answer": [{"valueString": B}]}]},
    ],
    "a plan of B": [
        client("a"), sized("a", A, ref("Patient/a")),
        {"resourceType": "CarePlan", "id": "b", "status": "active", "intent": "plan", "subject": ref("Patient/b"),
         "description": f"{B} cm"},
    ],
    "a task for B": [
        client("a"), sized("a", A, ref("Patient/a")),
        {"resourceType": "Task", "id": "b", "status": "requested", "intent": "order", "for": ref("Patient/b"),
         "description": f"{B} cm"},
    ],
    "a supply for B": [
        client("a"), sized("a", A, ref("Patient/a")),
        {"resourceType": "SupplyDelivery", "id": "b", "status": "completed", "patient": ref("Patient/b"),
         "suppliedItem": {"itemCodeableConcept": {"text": f"dressing {B}"}}},
    ],
}  # fmt: skip


def inputs() -> dict[str, Json]:
    """Every list of resources as it is, in one Bundle, in a searchset, each resource in a Bundle of its own."""
    made: dict[str, Json] = {}
    for name, resources in RESOURCES.items():
        fresh = copy.deepcopy(resources)
        made[f"{name}: resources"] = fresh
        made[f"{name}: Bundle"] = bundle("collection", *fresh)
        made[f"{name}: searchset"] = bundle("searchset", *fresh)
        made[f"{name}: NDJSON"] = "".join(json.dumps(one) + "\n" for one in fresh).encode()
        made[f"{name}: pages"] = [bundle("searchset", one) for one in fresh]
        made[f"{name}: reversed"] = list(reversed(fresh))
    return made
