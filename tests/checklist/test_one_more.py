"""One more note, held again and again to a record that stays open, gives what the verdict on the whole record says.

What is held to the records was not shaped to this code: every case of every rule, every example, the story's notes in
each other's place, and a long history made of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Any

import pytest

from tests.checklist.casebook import cases, record
from tests.checklist.test_one_note_alone import records
from woundfhir.checklist import judge
from woundfhir.checklist.one_more import OneMore
from woundfhir.checklist.one_note import of_note
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.intake.source import parse
from woundfhir.record import History

Visit = Mapping[str, Any]
SAID = ("findings", "answered", "notes", "drafts", "unanswered", "excused", "policy", "left_out")
#: Words that no list knows, so that the rules that could not look are counted too.
UNKNOWN = {"assessment": {"odour": "like a zebra", "healing_trend": "hmm"}, "care": {"securement": [{"method": "qqq"}]}}


def same(history: History, notes: Iterable[Visit], replaced: str | None = None) -> int:
    """Hold notes one after another to one open record; return for how many the record did not need to be opened."""
    before, at_the_end = OneMore(history, replaced), 0
    for note in notes:
        whole = History({**history.data, "visits": [*history.visits, dict(note)]})
        try:
            wanted = of_note(judge(whole), whole, note["id"])
        except InputError:  # replaced, or in error
            continue
        at_the_end += before._at_the_end(note) is not None
        found = before.verdict(note)
        for key in SAID:
            assert getattr(found, key) == getattr(wanted, key), key
    return at_the_end


def variants(visit: Visit, others: Iterable[Visit]) -> list[Visit]:
    """A note, the same without its parts, with unknown words, and the words of other notes in its place."""
    head = {key: visit[key] for key in ("id", "at", "written") if key in visit}
    entries = visit.get("wounds", ())
    out = [visit, {**visit, "wounds": []}]
    for group in ("assessment", "care", "plan"):
        out.append({**visit, "wounds": [{k: v for k, v in one.items() if k != group} for one in entries]})
    strange = [{**one, **{key: {**one.get(key, {}), **more} for key, more in UNKNOWN.items()}} for one in entries]
    out += [{**visit, "purpose": ["stripes"], "wounds": strange}, {**visit, "status": "draft"}]
    own = ("id", "at", "written", "replaces", "replaces_reason")
    out += [{**{k: v for k, v in other.items() if k not in own}, **head} for other in others]
    return [*out, visit]  # and once more, after all these


@pytest.mark.parametrize("history", records())
def test_each_note_is_judged_as_within_the_whole(history: History) -> None:
    at_the_end = 0
    for number, visit in enumerate(history.visits):
        before = History({**history.data, "visits": history.visits[:number]})
        at_the_end += same(before, variants(visit, history.visits[:2]), visit.get("replaces"))
    assert at_the_end or len(history.visits) < 2 or any("closed" in wound for wound in history.wounds)


def test_each_case_of_each_rule_is_judged_as_within_the_whole() -> None:
    tried = 0
    for case in cases():
        if case.data.get("checklist") or case.data.get("policy") or case.data.get("today"):
            continue
        try:
            history = History.of(record(case.data))
        except InputError:
            continue
        if len(history.visits) > 1:  # the first note of all is never put at the end of others
            last = history.visits[-1]
            before = History({**history.data, "visits": history.visits[:-1]})
            tried += same(before, [last, last], last.get("replaces"))
    assert tried > 200


def long(count: int) -> History:
    told = parse(story(), "story.yaml").history
    first = date(2018, 1, 1)
    visits = []
    for number in range(count):
        at = f"{first + timedelta(days=number)}T10:00:00-05:00"
        visits.append({**told.visits[number % len(told.visits)], "id": f"V{number}", "at": at, "written": at})
    return History.of({**told.data, "visits": [{k: v for k, v in v.items() if k != "replaces"} for v in visits]})


def test_a_long_history_and_the_notes_after_it() -> None:
    history = long(32)  # four times the story
    head = {"id": "N", "at": "2018-02-03T10:00:00-05:00", "written": "2018-02-03T10:30:00-05:00"}
    notes = [{**visit, **head} for visit in history.visits[:4]]
    assert same(history, [one for note in notes for one in variants(note, ())]) > 25
    # An amendment of the newest note, of one in the middle, and a note that is dated there.
    for place in (-1, 12):
        old = history.visits[place]
        amended = {**old, "id": "N", "status": "amended", "replaces": old["id"], "replaces_reason": "a slip"}
        notes = [one for one in variants(amended, ()) if place == -1 or one.get("purpose") != ["stripes"]]
        assert bool(same(history, notes, old["id"])) is (place == -1)
    assert same(history, [{**history.visits[2], **head, "at": "2018-01-17T11:00:00-05:00"}]) == 0
