"""The course of a wound: bad input gives a clear remark, never a wrong number or a traceback."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given

from tests.strategies import records
from woundfhir.measures.course import Course, Threshold, course
from woundfhir.record import History

_AROUND = ("at", "status", "care", "plan", "replaces")


def follow(*seen: dict[str, Any], **more: Any) -> Course:
    visits = []
    for number, one in enumerate(seen):
        entry = {"wound": "W1", "assessment": {k: v for k, v in one.items() if k not in _AROUND}}
        entry |= {key: one[key] for key in ("care", "plan") if key in one}
        visit = {"id": f"V{number}", "at": one["at"], "status": one.get("status", "final"), "wounds": [entry]}
        visits.append(visit | ({"replaces": one["replaces"]} if "replaces" in one else {}))
    history = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": visits})
    return course(history, "W1", **more)


def size(at: str, length: str = "4.0 cm", width: str = "3.0 cm", **more: Any) -> dict[str, Any]:
    return {"at": at, "length": length, "width": width, **more}


def codes(found: Course) -> set[str]:
    return {remark.code for remark in found.remarks}


@pytest.mark.parametrize(
    ("seen", "code"),
    [
        ([size("2026-03-01", length="-4 cm")], "below-zero"),
        ([size("2026-03-01", length="4.0")], "unit"),
        ([size("2026-03-01", length="4 mL")], "unit"),
        ([{"at": "2026-03-01", "length": "4 cm"}], "half-size"),
        ([size("2026-03-01", length="0 cm")], "half-zero"),
        ([size("2026-03-01"), size("2026-03-01")], "order"),
        ([size("2026-03-08"), size("2026-03-01")], "unsorted"),
        ([size("2026-03")], "no-day"),
        ([size("2026-03-01", "0 cm", "0 cm"), size("2026-03-08")], "zero-start"),
        ([size("2026-03-01"), size("2026-03-08", "5 cm")], "larger"),
    ],
)
def test_bad_input_gives_its_remark(seen: list[dict[str, Any]], code: str) -> None:
    assert code in codes(follow(*seen))


def test_millimetres_and_centimetres_are_one_measure() -> None:
    assert follow(size("2026-03-01", "40 mm", "30 mm"), size("2026-03-08")).since_first == 0


def test_another_method_begins_a_new_stretch_and_no_change_is_computed_across_it() -> None:
    found = follow(size("2026-03-01", measure_method="ruler"), size("2026-03-08", "2 cm", measure_method="tracing"))
    assert [b.reason for b in found.breaks] == ["measured in another way"]
    assert found.since_first is None and len(found.stretch) == 1


@pytest.mark.parametrize(("day", "marked"), [("15", []), ("16", ["gap"])])
def test_more_than_two_weeks_without_a_size_are_marked_where_no_policy_says_otherwise(
    day: str, marked: list[str]
) -> None:
    assert [mark.kind for mark in follow(size("2026-03-01"), size(f"2026-03-{day}")).breaks] == marked


def test_sharp_debridement_in_between_is_marked() -> None:
    """WOCN 2013 abstract Paper7772: a wound may be larger first; the mark asks to think of it."""
    cut = size("2026-03-01", care={"debridement": [{"kind": "surgical"}]})
    found = follow(cut, size("2026-03-08", "5 cm"))
    assert [b.reason for b in found.breaks] == ["debrided in between"]


def test_enlargement_is_a_question_and_never_a_diagnosis() -> None:
    found = follow(size("2026-03-01"), size("2026-03-08", "5 cm"))
    (said,) = [r.message for r in found.remarks if r.code == "larger"]
    assert said.endswith("?") and "infect" not in said and "deteriorat" not in said


def test_drafts_errors_and_replaced_notes_do_not_count() -> None:
    draft, error = size("2026-03-08", "9 cm", status="draft"), size("2026-03-09", "9 cm", status="entered in error")
    found = follow(size("2026-03-01"), draft, error)
    assert len(found.points) == 1


def test_a_draft_does_not_yet_replace_the_note_that_it_is_to_replace() -> None:
    first, second = size("2026-03-01"), size("2026-03-01", "5.0 cm")
    assert follow(first, {**second, "replaces": "V0"}).points[0].length == 5
    assert follow(first, {**second, "replaces": "V0", "status": "draft"}).points[0].length == 4


def test_the_newest_plan_is_the_one_that_is_shown() -> None:
    later = {"next_full_assessment": "2026-03-20"}
    found = follow(size("2026-03-08", plan=later), size("2026-03-01", plan={"next_full_assessment": "2026-03-08"}))
    assert found.next_full_assessment == "2026-03-20"


@pytest.mark.parametrize(("now", "reached"), [("2.0 cm", True), ("3.9 cm", False)])
def test_a_cut_off_is_reached_or_not_after_its_weeks(now: str, reached: bool) -> None:
    """Sheehan 2003 (diabetic foot, 4 weeks, 50 per cent as used in practice): the arithmetic only."""
    found = follow(size("2026-03-01"), size("2026-03-29", now), thresholds=[Threshold(Decimal(50), 4, "Sheehan 2003")])
    assert found.thresholds[0][1] is reached


def test_a_closed_wound_is_a_hundred_per_cent_smaller() -> None:
    assert follow(size("2026-03-01"), size("2026-03-29", "0 cm", "0 cm")).since_first == -100


def test_no_projection_without_its_conditions_and_the_reason_is_reported() -> None:
    assert follow(size("2026-03-01"), size("2026-03-08", "3 cm")).projection.reason == "fewer than three measurements"


@given(records())
def test_no_record_makes_it_fail(raw: dict[str, Any]) -> None:
    history = History.of(raw)
    for wound in history.wounds:
        course(history, wound["id"])
