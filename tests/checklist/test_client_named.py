"""What identifies a client to a nurse: not a sender's name of a resource, and no placeholder."""

from __future__ import annotations

from typing import Any

import pytest

from woundfhir import History, check, from_fhir


@pytest.mark.parametrize(
    ("identifiers", "asked"),
    [
        ([{"system": "urn:example:card", "value": "4417"}], False),
        ([{"system": "urn:example:card", "value": "0000"}], True),
        ([{"system": "urn:example:card", "value": "unknown"}], True),
        ([], True),
    ],
)
def test_a_name_and_a_placeholder_are_not_two_identifiers(identifiers: Any, asked: bool) -> None:
    patient = {"identifiers": identifiers, "name": {"text": "A"}}
    found = check(History.of({"woundfhir": 1, "patient": patient, "visits": [{"id": "V1", "status": "final"}]}))
    assert ("HD01" in {one.rule for one in found}) is asked


def test_a_name_and_the_id_of_a_patient_resource_are_not_two_identifiers() -> None:
    history, _ = from_fhir([{"resourceType": "Patient", "id": "111", "name": [{"text": "A"}]}])
    assert "HD01" in {one.rule for one in check(history)}
