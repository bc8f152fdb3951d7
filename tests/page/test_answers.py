"""What a form says is what the record holds: both ways, over every answer of every example."""

from __future__ import annotations

from typing import Any

import pytest

from tests.paths import ROOT
from woundfhir.intake.source import parse
from woundfhir.page.answers import entry, flat_entry
from woundfhir.page.draft import Draft
from woundfhir.page.noted import as_draft, note
from woundfhir.record import History

RECORDS = sorted(path for path in (ROOT / "examples").rglob("*.yaml") if b"woundfhir: 1" in path.read_bytes())
RECORDS += [ROOT / "woundfhir" / "demo" / "story.yaml"]


def histories() -> list[Any]:
    found = []
    for path in RECORDS:
        try:
            found.append(pytest.param(parse(path.read_bytes(), path.name).history, id=path.name))
        except Exception:  # an example that is refused on purpose
            continue
    return found


@pytest.mark.parametrize("history", histories())
def test_what_the_form_shows_is_what_the_record_holds(history: History) -> None:
    for visit in history.visits:
        for held in visit.get("wounds", ()):
            again = entry(flat_entry(held))
            plain = {"woundfhir": 1, "patient": {}, "zone": history.data.get("zone"), "wounds": history.wounds}
            made = History.of(
                {**plain, "visits": [{"id": "V", "at": "2026", "wounds": [{"wound": held["wound"], **again}]}]}
            )
            assert made.visits[0]["wounds"][0] == held


@pytest.mark.parametrize("history", histories())
def test_an_amendment_that_changes_nothing_says_the_same(history: History) -> None:
    for visit in history.visits:
        draft = Draft("d1", {"at": str(visit.get("at", "")), "replaces": visit["id"]})
        for scope, flat in as_draft(visit).items():
            draft.put(scope, flat)
        made = note(draft, history, visit.get("by", {}), "2026-05-01T10:00-04:00")
        own = ("id", "written", "status", "replaces", "replaces_reason", "by", "at")
        left = {key: value for key, value in made.items() if key not in own and value}
        assert left == {key: value for key, value in visit.items() if key not in own and value}
        assert made["replaces"] == visit["id"] and made["status"] == "amended"


def test_there_are_records_to_try() -> None:
    assert len(histories()) > 3


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("4,1", "4.1 cm"),
        ("4.10", "4.10 cm"),
        ("41 mm", "41 mm"),
        ("about 4", "about 4"),
        (" 4,1 ", "4.1 cm"),
        ("<1", "<1 cm"),
        ("> 3", ">3 cm"),
        ("0,125", "0.125 cm"),
        # Thousands or decimals, and two separators: no other number is made of them.
        ("1,250", "1,250 cm"),
        ("3,100.5", "3,100.5"),
        ("1,250,000", "1,250,000"),
    ],
)
def test_a_number_is_written_as_it_was_typed_with_its_unit(typed: str, written: str) -> None:
    assert entry({"assessment.length": [typed]})["assessment"]["length"] == written


def test_a_reason_stands_only_where_there_is_no_answer() -> None:
    both = {"assessment.odour": ["none"], "assessment.odour?": ["declined"]}
    assert entry(both)["assessment"]["odour"] == "none"
    assert entry({"assessment.odour?": ["declined"]})["assessment"]["odour"] == {"absent": "declined"}
