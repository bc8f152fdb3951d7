"""Files of version 0.1.0 name our codes, profiles and extensions under another base: they are still read as ours.

``tests/data/former_base/`` was written by the code of that version and is kept as it was; the record is invented.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

import woundfhir
from tests.paths import DATA
from woundfhir.catalogue.base import BASE, FORMER_BASE, current
from woundfhir.intake.source import parse
from woundfhir.record import History

FOLDER = DATA / "former_base"


def former(name: str) -> bytes:
    content = (FOLDER / name).read_bytes()
    assert FORMER_BASE.encode() in content
    return content


@pytest.fixture(scope="module")
def record() -> History:
    return woundfhir.read(FOLDER / "record.yaml")


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
    came = {entry["resource"]["id"] for entry in json.loads(former("bundle.json"))["entry"]}
    assert came == {entry["resource"]["id"] for entry in written["entry"]}


def test_only_a_whole_url_is_renamed() -> None:
    for text in (f"see {FORMER_BASE}/x", f"{FORMER_BASE}-else/x", f'a "quoted" {FORMER_BASE}/x', ""):
        assert current(text) == text
    for text in ("", "/CodeSystem/wound-care", "/Questionnaire/wound-visit|0.1.0"):
        assert current([FORMER_BASE + text]) == [BASE + text]
