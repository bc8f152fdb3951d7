"""Several invented clients as lines, whole and broken, for the tests of streams."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from woundfhir.intake.source import read_all
from woundfhir.output import dumps
from woundfhir.record import History

Json = Any
CLIENTS = 7


def client(number: int) -> History:
    author = {"id": f"N{number % 2}", "name": "Nurse (invented)", "organisation": "North Clinic (invented)"}
    entry = {
        "wound": "W1",
        "assessment": {"length": f"{number}.10 cm", "width": "2.0 cm", "tissue": {"slough": "50 %"}},
    }
    visits = [
        {"id": "V1", "at": "2026-03-02T10:05:00-05:00", "by": author, "status": "final", "wounds": [entry]},
        {"id": "V2", "at": "2026-03-04T10:05:00-05:00", "by": author, "status": "amended", "replaces": "V1"},
    ]
    patient = {"identifiers": [{"system": "urn:example:card", "value": f"C-{number}"}]}
    return History.of({"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}], "visits": visits})


def lines(*numbers: int) -> bytes:
    return "".join(dumps(client(number), format="ndjson") for number in numbers).encode()


def records(path: Path) -> list[Json]:
    return sorted((one.history.data for one in read_all([path])), key=str)


#: Lines that cannot be read.
BROKEN = {
    "cut off": b'{"resourceType":"Observation","id":"x","sub',
    "no JSON": b"Tremblay, 4.1 cm",
    "no resource": b'{"name":"Tremblay"}',
    "a list": b'["Tremblay"]',
    "not UTF-8": b'{"resourceType":"\xff"}',
}


#: What names a client in a way that no line alone shows.
ODD = {
    "a subject by its number": {"subject": {"identifier": {"system": "urn:example:card", "value": "C-1"}}},
    "a subject in words": {"subject": {"display": "somebody"}},
    "a subject elsewhere": {"subject": {"reference": "https://other.example.org/fhir/Patient/1"}},
    "a group": {"subject": {"reference": "Group/1"}},
    "a client inside": {"contained": [{"resourceType": "Patient", "id": "p"}], "subject": {"reference": "#p"}},
    "nobody, and near nobody": {},
    "a conditional reference": {"subject": {"reference": "Patient?identifier=urn:example:card|C-1"}},
    # FHIR R4, Parameters: what an operation answered, on a line of its own.
    "what an operation answered": {
        "resourceType": "Parameters",
        "parameter": [{"name": "return", "resource": {"resourceType": "Patient", "id": "x", "birthDate": "1950"}}],
    },
}


def with_line(path: Path, number: int, line: bytes) -> int:
    there = path.read_bytes().splitlines()
    path.write_bytes(b"\n".join([*there[:number], line, *there[number:]]) + b"\n")
    return number + 1
