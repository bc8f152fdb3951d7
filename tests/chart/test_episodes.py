"""Which notes count, and which belong to one episode of a wound: cases by hand. Common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checklist.samples import entry, record, visit
from woundfhir.chart import open_record
from woundfhir.checklist.rules.helpers import measured
from woundfhir.measures.course import course
from woundfhir.record import History

SIZE = {"length": "3.0 cm", "width": "2.0 cm"}
NOTHING = {"length": "0 cm", "width": "0 cm"}
RESOLVED = {"healing_trend": "resolved"}


def seen(*assessments: dict[str, Any], **wound: Any) -> History:
    visits = [
        visit(entry(assessment=one), id=f"V{number}", at=f"2026-0{number + 1}-02T10:00:00-05:00")
        for number, one in enumerate(assessments)
    ]
    found = record(*visits)
    found.data["wounds"][0].update(wound)
    return found


def numbers(history: History) -> list[str]:
    found = open_record(history).wounds[0].episodes
    return ["".join(one.visit.id[1:] for one in episode) for episode in found]


@pytest.mark.parametrize(
    ("history", "expected"),
    [
        (seen(SIZE, SIZE), ["01"]),
        (seen(SIZE, RESOLVED), ["01"]),
        (seen(SIZE, RESOLVED, SIZE), ["01", "2"]),
        (seen(SIZE, {"healing_trend": "healed"}, SIZE), ["01", "2"]),  # A synonym of the answer list.
        (seen(SIZE, NOTHING, SIZE), ["01", "2"]),
        (seen(SIZE, RESOLVED, {"length": "0.3 cm", "width": "0.2 cm"}), ["01", "2"]),
        (seen(SIZE, RESOLVED, {"area": "0.1 cm2"}), ["01", "2"]),
        (seen(SIZE, RESOLVED, {"healing_trend": "deteriorating"}), ["01", "2"]),
        (seen(SIZE, RESOLVED, {"tunnels": [{"clock": 4}]}), ["01", "2"]),
        (seen(SIZE, RESOLVED, {"tunnels": "none"}), ["012"]),
        (seen(SIZE, RESOLVED, {"length": "0 cm"}), ["012"]),
        (seen(SIZE, {"area": "0 cm2"}, SIZE), ["01", "2"]),
        # Nobody said that it is open again: looked at, scar only.
        (seen(SIZE, RESOLVED, {"pain_at_rest": 0}, RESOLVED), ["0123"]),
        (seen(SIZE, RESOLVED, {"pain_at_rest": 0}, SIZE), ["012", "3"]),
        (seen(SIZE, RESOLVED, {"exudate_amount": "moderate"}), ["01", "2"]),
        (seen(SIZE, RESOLVED, {"exudate_amount": "nil"}), ["012"]),
        # Never open before: a nought is no closure.
        (seen(NOTHING, SIZE), ["01"]),
        (seen(SIZE, RESOLVED, SIZE, RESOLVED, SIZE), ["01", "23", "4"]),
        # The closing day of the wound, between two notes; a month that may be either is none.
        (seen(SIZE, SIZE, SIZE, closed="2026-02-20"), ["01", "2"]),
        (seen(SIZE, SIZE, SIZE, closed="2026-03"), ["012"]),
        (seen(SIZE, SIZE, SIZE, closed={"absent": "unknown"}), ["012"]),
        (seen(SIZE, RESOLVED, SIZE, closed="2026-02-20"), ["01", "2"]),
        # A closing day is passed once.
        (seen(SIZE, SIZE, SIZE, RESOLVED, SIZE, SIZE, closed="2026-02-20"), ["01", "23", "45"]),
        # A side below zero is a slip, and closes nothing.
        (seen(SIZE, {"length": "0 cm", "width": "-1 cm"}, SIZE), ["012"]),
    ],
)
def test_episodes(history: History, expected: list[str]) -> None:
    assert numbers(history) == expected


def test_what_was_charted_before_the_wound_opened_again_and_what_is_charted_since() -> None:
    wound = open_record(seen(SIZE, RESOLVED, SIZE, SIZE)).wounds[0]
    assert [one.visit.id for one in wound.earlier.notes] == ["V0", "V1"]
    assert [one.visit.id for one in wound.now.notes] == ["V2", "V3"]
    assert list(open_record(seen(SIZE, SIZE)).wounds[0].earlier.notes) == []


def test_no_number_crosses_a_closure() -> None:
    found = course(seen(SIZE, NOTHING, {"length": "4.0 cm", "width": "2.0 cm"}), "W1")
    assert [mark.kind for mark in found.breaks if mark.kind != "gap"] == ["closure"]
    assert found.since_first is found.since_last is found.rate is None and found.larger == ()
    again = course(seen(SIZE, RESOLVED, {"length": "4.0 cm", "width": "2.0 cm"}, SIZE), "W1")
    assert again.since_first == -25 and [point.visit for point in again.stretch] == ["V2", "V3"]


def test_a_plan_from_before_a_closure_is_no_longer_due() -> None:
    first = visit(entry(assessment=SIZE, plan={"next_change": "2026-03-05"}), id="V0", at="2026-03-02")
    closed = visit(entry(assessment=RESOLVED), id="V1", at="2026-03-09")
    again = visit(entry(assessment=SIZE), id="V2", at="2026-04-09")
    wound = open_record(record(first, closed, again)).wounds[0]
    assert wound.last_change is None and wound.planned("next_change") is None
    before = open_record(record(first, closed)).wounds[0].planned("next_change")
    assert before is not None and before.visit.id == "V0"


def test_a_plan_holds_from_the_last_change_on_and_a_later_one_takes_its_place() -> None:
    """Common practice, no source: at a change the next one is planned, and on the telephone that may be moved."""
    cleansed = {"cleansing": {"solution": "normal saline"}}
    plans: list[dict[str, Any]] = [{"care": cleansed, "plan": {"next_change": "2026-03-05", "goal": "closed"}}]
    assert _planned(plans) == {"next_change": 0, "goal": 0}
    plans.append({"plan": {"next_change": "2026-03-06"}})
    assert _planned(plans) == {"next_change": 1, "goal": 0}
    plans.append({"care": cleansed})
    assert _planned(plans) == {"next_change": None, "goal": None}
    plans.append({"plan": {"goal": "closed by May"}})
    assert _planned(plans) == {"next_change": None, "goal": 3}


def _planned(plans: list[dict[str, Any]]) -> dict[str, int | None]:
    wound = open_record(record(*(visit(entry(**one)) for one in plans))).wounds[0]
    found = {key: wound.planned(key) for key in ("next_change", "goal")}
    return {key: None if one is None else one.nth for key, one in found.items()}


#: Links of notes (id: what it replaces), statuses that are not final, and what counts then.
LINKS: list[tuple[dict[str, str], dict[str, str], list[str]]] = [
    ({"b": "a"}, {}, ["b", "c"]),
    ({"b": "a", "c": "b"}, {}, ["c"]),
    ({"b": "a", "c": "b"}, {"c": "draft"}, ["b"]),
    ({"b": "a", "c": "b"}, {"b": "draft"}, ["c"]),
    ({"b": "a", "c": "b"}, {"b": "entered in error"}, ["c"]),
    ({"b": "a", "c": "a"}, {}, ["b", "c"]),
    ({"b": "a", "c": "a"}, {"b": "entered in error", "c": "draft"}, ["a"]),
    ({"a": "b", "b": "a"}, {}, ["a", "b", "c"]),
    ({"a": "b", "b": "c", "c": "a"}, {}, ["a", "b", "c"]),
    ({"a": "b", "b": "a", "c": "a"}, {}, ["b", "c"]),
]


@pytest.mark.parametrize(("links", "statuses", "expected"), LINKS)
@pytest.mark.parametrize("order", ["abc", "cba", "bca"])
def test_what_a_finished_note_replaces_does_not_count(
    links: dict[str, str], statuses: dict[str, str], expected: list[str], order: str
) -> None:
    notes = [
        visit(id=name, status=statuses.get(name, "final"), **({"replaces": links[name]} if name in links else {}))
        for name in order
    ]
    assert sorted(one.id for one in open_record(record(*notes)).counted) == expected


def test_a_note_is_compared_with_its_own_episode_alone() -> None:
    first, second, closing, again, after = open_record(seen(SIZE, SIZE, RESOLVED, SIZE, SIZE)).wounds[0].entries
    assert [one.episode_start for one in (first, second, closing, again, after)] == [0, 0, 0, 3, 3]
    assert [one.previous for one in (first, second, closing, again, after)] == [None, first, second, closing, again]
    assert second.comparable(measured) is first and again.comparable(measured) is None
    assert after.comparable(measured) is again and after.in_episode(measured) is again
    assert again.in_episode(measured) is None and again.latest(measured) is second
    assert list(after.comparables(measured)) == [again] and list(again.comparables(measured)) == []
    assert after.oldest_comparable(measured) is again and closing.oldest_comparable(measured) is first


def test_a_draft_that_finds_the_wound_open_again_begins_an_episode_of_its_own() -> None:
    """A draft is not among the entries that count, but it is judged, and is not compared across a closure either."""
    history = seen(SIZE, RESOLVED, SIZE)
    history.data["visits"][2]["status"] = "draft"
    draft = open_record(history).wounds[0].judged[2]
    assert draft.draft and draft.episode_start == 2 and draft.comparable(measured) is None
    history.data["visits"][2]["wounds"][0]["assessment"] = {"pain_at_rest": "0"}
    assert open_record(history).wounds[0].judged[2].episode_start == 0


def test_an_order_that_is_not_certain_is_not_compared() -> None:
    history = seen(SIZE, SIZE, SIZE)
    history.data["visits"][1]["at"] = "2026-03-02"  # the whole day of the third note
    history.data["visits"][2]["at"] = "2026-03-02T10:00:00-05:00"
    first, vague, last = open_record(history).wounds[0].entries
    assert last.in_episode(measured) is vague and last.comparable(measured) is first
    assert list(last.comparables(measured)) == [first]
