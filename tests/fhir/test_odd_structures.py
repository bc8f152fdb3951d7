"""Structures that R4 does not allow, found by tools/fuzz.py: read or refused, never a crash, never a word of theirs."""

from __future__ import annotations

from typing import Any

import pytest

from woundfhir import InputError, from_fhir, read

_PATIENT = {"resourceType": "Patient", "id": "p"}


@pytest.mark.parametrize(
    "changed",
    [
        {"contained": "x"},
        {"contained": {}},
        {"code": {"coding": [{"system": ["x"], "code": ["y"]}, "z"]}},
        {"component": [{"code": {"coding": "x"}, "valueString": "y"}]},
    ],
)
def test_an_odd_structure_is_no_crash(changed: dict[str, Any]) -> None:
    size = {"resourceType": "Observation", "id": "o", "status": "final", "code": {"text": "x"}, **changed}
    try:
        from_fhir([_PATIENT, size])[1].lines()
    except InputError as error:
        assert error.fix


def test_a_word_under_a_share_stands_in_no_message() -> None:
    share = {"assessment": {"tissue": {"MARK4711": {"deep": 1}}}, "wound": "W1"}
    with pytest.raises(InputError) as refused:
        read({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [{"id": "V", "wounds": [share]}]})
    assert "MARK4711" not in str(refused.value)
    assert "tissue.?" in str(refused.value)


@pytest.mark.parametrize("at", ["", 'a"'])
def test_an_element_without_a_right_name_is_refused(at: str) -> None:
    with pytest.raises(InputError, match="an element has an empty name"):
        from_fhir([{"resourceType": "Patient", "id": "p", "birthDate": "1948", "text": {at: " "}}])
    from_fhir([{"resourceType": "Patient", "id": "p", "birthDate": "1948", "name": [{"text": '"":'}]}])
