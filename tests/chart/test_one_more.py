"""A note that is put in for a while: the record answers as if it had come with it, and afterwards as it did before."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checklist.samples import demo, entry, record, visit
from woundfhir.catalogue import catalogue
from woundfhir.chart.conditions import CONDITIONS
from woundfhir.chart.heard import Heard
from woundfhir.chart.notes import EntryView, WoundView
from woundfhir.chart.one_more import fits, one_more
from woundfhir.chart.views import RecordView
from woundfhir.checklist.policy import load
from woundfhir.checklist.rules.helpers import measured
from woundfhir.record import History

Json = Any
PATHS = sorted(one.path for one in catalogue().concepts() if one.group in ("assessment", "care", "plan"))
SIZE, RESOLVED = {"length": "3.0 cm", "width": "2.0 cm"}, {"healing_trend": "resolved"}


def opened_from(history: History) -> RecordView:
    return RecordView(history, load("ontario"))


def _id(note: EntryView | None) -> str | None:
    return None if note is None else note.visit.id


def _of_wound(wound: WoundView) -> Json:
    series = wound.series
    return {
        "episodes": [[_id(one) for one in episode] for episode in wound.episodes],
        "notes": [_id(one) for one in wound.judged],
        "newest": (_id(wound.newest), _id(wound.last_change), wound.closed, wound.due_from),
        "planned": [_id(wound.planned(key)) for key in ("next_change", "change_every", "goal")],
        "since": [[_id(one) for one in part.notes] for part in (wound.now, wound.earlier)],
        "with": [(_id(series.newest_with(p)), _id(series.newest_written(p)), series.first_with(p)) for p in PATHS],
        "holds": [name for name in CONDITIONS if wound.holds(name)],
    }


def _of_entry(one: EntryView) -> Json:
    found = (one.previous, one.latest(measured), one.in_episode(measured), one.comparable(measured))
    return {
        "earlier": [_id(note) for note in (*found, one.oldest_comparable(measured), *one.comparables(measured))],
        "place": (one.nth, one.episode_start, one.visit.rank, one.visit.previous and one.visit.previous.id),
        "answered": [path for path in PATHS if one.answered_before(path)],
        "holds": [name for name in CONDITIONS if one.holds(name)],
    }


def answers(record: RecordView) -> Json:
    """Return what a record answers to all questions that a later note can change."""
    return {
        "wounds": [_of_wound(wound) for wound in record.wounds],
        "entries": [_of_entry(one) for note in record.judged for one in note.entries],
        "record": (record.newest and record.newest.id, record.today, [note.id for note in record.counted]),
        "holds": [name for name in CONDITIONS if record.holds(name)],
    }


def notes_of(*assessments: Json) -> History:
    return record(*(visit(entry(assessment=one, plan={"next_change": "2026-03-09"})) for one in assessments))


@pytest.mark.parametrize("status", ["final", "draft"])
@pytest.mark.parametrize(
    "history", [demo(), notes_of(SIZE, RESOLVED, SIZE), notes_of(SIZE, {}, SIZE, {"exudate_amount": "small"})]
)
def test_a_note_put_in_is_answered_for_as_if_the_record_had_come_with_it(history: History, status: str) -> None:
    tried = 0
    for number, given in enumerate(history.visits):
        note = {**given, "status": status}
        before = {**history.data, "visits": history.visits[:number]}
        opened = opened_from(History(before))
        if "replaces" in note or not fits(opened, note):
            continue
        whole = answers(opened_from(History({**before, "visits": [*history.visits[:number], note]})))
        alone = answers(opened_from(History(before)))
        for asked_before in (False, True, True):
            if asked_before:
                assert answers(opened) == alone
            with one_more(opened, note):
                assert answers(opened) == whole
        assert answers(opened) == alone
        tried += 1
    assert tried > 1


@pytest.mark.parametrize(
    ("change", "stands"),
    [
        ({}, True),
        ({"status": "entered in error"}, False),  # it is judged by nobody
        ({"id": "V1"}, False),
        ({"at": "2026-03-02T09:00:00-05:00"}, False),  # before the newest
        ({"at": "2026-03-09T10:00:00-04:00"}, False),  # clocks have changed, so that other times may mean another hour
        ({"wounds": [{"wound": "W2"}]}, False),
    ],
)
def test_where_a_note_stands_at_the_end(change: Json, stands: bool) -> None:
    note = {"id": "V3", "at": "2026-03-09T10:00:00-05:00", "status": "final", "wounds": [{"wound": "W1"}], **change}
    assert fits(opened_from(notes_of(SIZE, SIZE)), note) is stands
    closed = notes_of(SIZE, SIZE)
    closed.data["wounds"][0]["status"] = "closed"
    assert not fits(opened_from(closed), note)


def test_what_was_kept_within_something_kept_is_noted_for_both() -> None:
    """Whoever asks for a kept result asks for all that it was made of, however deep, at every time."""
    heard, done = Heard(["wounds[0].kind"]), set[str]()

    def ask() -> None:
        if "asked" not in done:
            heard.ask("wounds[0].kind")
        done.add("asked")

    def outer() -> None:
        if "outer" not in done:
            heard.kept("inner", ask)
        done.add("outer")

    def outermost() -> None:
        heard.kept("outer", outer)

    for _ in range(2):
        heard.kept("outermost", outermost)
        assert heard.taken() == {"wounds[0].kind"} and heard.taken() == set()
    for name, work in (("outer", outer), ("inner", ask)):
        heard.kept(name, work)
        assert heard.taken() == {"wounds[0].kind"}


def test_who_asks_any_view_for_a_word_that_is_listened_for_is_heard() -> None:
    seen = entry(assessment={"odour": "zebra"}, care={"primary_dressing": [{"dressing": "zebra pad"}]})
    opened = opened_from(record(visit(seen, purpose=["stripes"], client={"risk_tool": "ours"})))
    wound, note = opened.wounds[0], opened.visits[0]
    here = note.entries[0]
    asked = {
        "wounds[0].kind": lambda: wound.word("wound.kind"),
        "visits[0].purpose": lambda: note.words("visit.purpose"),
        "visits[0].client.risk_tool": lambda: note.tags("client.risk_tool"),
        "visits[0].wounds[0].assessment.odour": lambda: here.none("assessment.odour"),
        "visits[0].wounds[0].care.primary_dressing[0].dressing": lambda: here.items("care.primary_dressing")[0].named(
            "dressing"
        ),
    }
    opened.listen(asked)
    assert opened.heard is not None
    for place, ask in asked.items():
        for _ in range(2):
            ask()
            assert opened.heard.taken() == {place}
        here.written("assessment.odour"), here.answer("assessment.odour"), here.path("assessment.odour")
        assert opened.heard.taken() == set()
    opened.listen(None)
    assert all(view.heard is None for view in (opened, opened.patient, wound, note, here))
