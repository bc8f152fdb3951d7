"""Structures that R4 does not allow, found by tools/fuzz.py: read or refused, never a crash, never a word of theirs."""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.foreign.inputs import length
from tests.v2.cases import LENGTH, OBR, msh, obx, pid
from woundfhir import InputError, dumps, from_fhir, loads, read

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


def _story(**changed: Any) -> dict[str, Any]:
    wound = {"resourceType": "Condition", "id": "w", "subject": {"reference": "Patient/p"}, "code": {"text": "burn"}}
    size = length("s", 4, focus=[{"reference": "Condition/w"}], effectiveDateTime="2026-03-02")
    return {
        "resourceType": "Bundle",
        "type": "collection",
        "entry": [{"resource": one} for one in (_PATIENT, wound, {**size, **changed})],
    }


@pytest.mark.parametrize(
    "changed",
    [
        {"category": {"coding": "x"}},
        {"partOf": [["x"]]},
        {"modifierExtension": [{"url": "https://example.org/not", "nothing": True}]},
        {"modifierExtension": [{"url": "https://example.org/not", "valueBoolean": True}], "wounds": [1]},
    ],
)
def test_what_xml_cannot_say_says_no_more_in_xml_than_in_json(changed: dict[str, Any]) -> None:
    """What made an Observation no fact must not be the part that XML leaves out."""
    history, _ = read(_story(**changed))
    back = loads(dumps(history, format="fhir-xml"), format="fhir-xml")
    assert {**back.data, "extra": 0} == {**history.data, "extra": 0}
    assert len(back.extra) >= len(history.extra)


@pytest.mark.parametrize(
    ("number", "key", "value"), [(0, "name", []), (1, "category", []), (1, "clinicalStatus", "x"), (3, "telecom", [])]
)
def test_what_names_a_resource_that_xml_cannot_say_still_finds_it(number: int, key: str, value: Any) -> None:
    """The client, the wound (one that does not count, too) and the nurse stay those of the size."""
    came = _story(performer=[{"reference": "Practitioner/n"}])
    nurse = {"resourceType": "Practitioner", "id": "n", "name": [{"suffix": ["RN"]}]}
    came["entry"].append({"resource": nurse})
    came["entry"][number]["resource"][key] = value
    history, _ = read(came)
    back = loads(dumps(history, format="fhir-xml"), format="fhir-xml")
    assert {**back.data, "extra": 0} == {**history.data, "extra": 0}


@pytest.mark.parametrize("changed", [{"valueQuantity": {"value": 4, "unit": "c\x14"}}, {"valueString": "4 c\x14m"}])
def test_a_size_with_a_control_character_is_refused_by_its_place(changed: dict[str, Any]) -> None:
    with pytest.raises(InputError, match=r"assessment\.length: expected text without control characters"):
        read(_story(**{"valueQuantity": None, **changed}))


def test_one_broken_reference_renames_no_other() -> None:
    came = _story(encounter={"reference": ["Encounter/e"]})
    came["entry"].append({"resource": {"resourceType": "Encounter", "id": "e", "subject": {"reference": "Patient/p"}}})
    history, _ = read(came)
    again = loads(dumps(history, format="fhir-json"), format="fhir-json")
    assert [visit["id"] for visit in again.visits] == [visit["id"] for visit in history.visits]


def test_control_characters_of_what_is_kept_are_written_as_numbers() -> None:
    message = (
        msh() + pid("C-1") + OBR.replace("NOTES", "NO\x10TES") + obx(1, "NM", LENGTH, "4.20", "cm^centimeter^UCUM")
    )
    history, _ = read(message.encode())
    assert any("\\u0010" in item.get("came", "") for item in history.extra)
    assert loads(dumps(history, format="record"), format="record") == history


def test_blank_text_at_a_key_that_is_not_known_is_kept() -> None:
    history, _ = read({"woundfhir": 1, "patient": {"colour": " "}, "wounds": [], "visits": []})
    assert [item["value"] for item in history.extra] == ['" "']
    assert loads(dumps(history, format="record"), format="record") == history
