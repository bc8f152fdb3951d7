"""Files of version 0.1.0 name our URLs under another base, and three codes that were wrong: still read as ours.

``tests/data/version_0_1_0/`` was written by the code of that version and is kept as it was; the record is invented.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

import woundfhir
from tests.paths import DATA
from woundfhir.catalogue.base import BASE
from woundfhir.catalogue.former import FORMER_BASE, current
from woundfhir.intake.source import parse
from woundfhir.record import History

FOLDER = DATA / "version_0_1_0"


def former(name: str) -> bytes:
    content = (FOLDER / name).read_bytes()
    assert FORMER_BASE.encode() in content
    return content


@pytest.fixture(scope="module")
def record() -> History:
    return woundfhir.read(FOLDER / "record.yaml").history


def without_extra(history: History) -> dict[str, Any]:
    return {key: value for key, value in history.data.items() if key != "extra"}


def test_a_bundle_of_the_former_base_is_read_whole(record: History) -> None:
    found = parse(former("bundle.json"), "bundle.json")
    assert without_extra(found.history) == without_extra(record)
    assert {item["element"] for item in found.history.extra} == {"extension", "maritalStatus"}
    assert FORMER_BASE not in found.history.json()


def test_a_record_that_keeps_something_of_the_former_base_is_the_same_record(record: History) -> None:
    found = parse(former("record.json"), "record.json").history
    assert without_extra(found) == without_extra(record)
    assert found.json() == parse(former("bundle.json"), "bundle.json").history.json()


def test_a_filled_form_of_the_former_base_is_read(record: History) -> None:
    found = parse(former("form.json"), "form.json").history
    assert found.visits[0]["wounds"][0]["assessment"] == record.visits[0]["wounds"][0]["assessment"]


def test_what_is_written_again_names_the_present_base_alone() -> None:
    """The ids do not change: they follow from the client and not from the base."""
    found = parse(former("bundle.json"), "bundle.json").history
    written = woundfhir.bundle(found)
    text = json.dumps(written, default=str)
    assert FORMER_BASE not in text
    assert BASE in text
    came = {entry["resource"]["id"]: entry["resource"] for entry in json.loads(former("bundle.json"))["entry"]}
    again = {entry["resource"]["id"] for entry in written["entry"]}
    # What a step has no element for, and what belongs to another answer, stood in Observations of their own.
    inside = {name for name, one in came.items() if "details" in str(one.get("meta")) or "odour-after" in str(one)}
    # A document names now which software made it.
    software = {one["id"] for one in (entry["resource"] for entry in written["entry"]) if "Provenance" in one.values()}
    assert len(software) == 1 and again - software == came.keys() - inside


def test_only_a_whole_url_is_renamed() -> None:
    for text in (f"see {FORMER_BASE}/x", f"{FORMER_BASE}-else/x", f'a "quoted" {FORMER_BASE}/x', ""):
        assert current(text) == text
    for text in ("", "/CodeSystem/wound-care", "/Questionnaire/wound-visit|0.1.0"):
        assert current([FORMER_BASE + text]) == [BASE + text]


SNOMED = "http://snomed.info/sct"
#: Codes that version 0.1.0 wrote for another meaning (their meanings: tests/data/codes.tsv).
WRONG = {"363753007": "surgical dressing", "449744004": "indurated"}


def written_codings(history: History) -> str:
    return json.dumps(woundfhir.to_fhir(history), default=str)


def test_words_written_under_a_wrong_code_are_read_and_written_under_the_right_one() -> None:
    found = parse(former("codes.json"), "codes.json")
    assert found.losses == []
    first, second = (visit["wounds"][0] for visit in found.history.visits)
    assert first["assessment"] == {"exudate_colour": "clear", "periwound": ["indurated"]}
    assert first["care"]["primary_dressing"] == [{"dressing": "surgical dressing"}]
    assert first["supplies"][0]["item"] == "surgical dressing"
    assert second["assessment"] == {"exudate_colour": "colourless", "periwound": ["induration"]}
    written = written_codings(found.history)
    assert [code for code in WRONG if code in written] == []
    assert '"263707001"' in written  # clear
    assert '"263716002"' in written  # colourless, which the second visit charts


def test_a_code_of_another_sender_is_not_recoded() -> None:
    """Crutches stay crutches: only what names a profile of version 0.1.0 was written by it."""
    crutches = {"coding": [{"system": SNOMED, "code": "363753007", "display": "Crutches"}], "text": "surgical dressing"}
    supply = {"resourceType": "SupplyDelivery", "suppliedItem": {"itemCodeableConcept": crutches}}
    assert current(supply) == supply
    ours = {**supply, "meta": {"profile": [f"{FORMER_BASE}/StructureDefinition/supply"]}}
    assert current(ours)["suppliedItem"]["itemCodeableConcept"]["coding"] == []
    other_word = {**ours, "suppliedItem": {"itemCodeableConcept": {**crutches, "text": "crutches"}}}
    assert current(other_word)["suppliedItem"]["itemCodeableConcept"]["coding"] == crutches["coding"]
