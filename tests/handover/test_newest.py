"""Every view names the same newest note, and nothing is said of an order that nobody can know.

The records are made from outside: visits happen at true instants in Toronto, and somebody then writes them down as
people and systems do (with an offset, in UTC, by the clock on the wall, the day alone, the month, the time of writing
alone), drafts them, amends them, withdraws them, and puts them into the file in any order. The truth is counted with
``datetime`` and ``zoneinfo`` (IANA time zone database) and never with the code under test.
"""

from __future__ import annotations

import random
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from html import unescape
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from woundfhir.chart import open_record
from woundfhir.drawing import trend_chart
from woundfhir.handover.bundling import bundle
from woundfhir.handover.compare import compare
from woundfhir.handover.select import gather
from woundfhir.handover.sheet.page import sheet_html
from woundfhir.handover.summary.client import summary
from woundfhir.measures.course import course
from woundfhir.record import History, dates

TORONTO = ZoneInfo("America/Toronto")
Json = Any


def note(name: str, number: int, **head: Json) -> dict[str, Json]:
    """A note whose size, next change and next nurse are its own."""
    entry = {
        "wound": "W1",
        "assessment": {"length": f"{number + 2}.{number % 10} cm", "width": "1.0 cm", "depth": "0.1 cm"},
        "care": {"primary_dressing": [{"dressing": "foam dressing"}]},
        "plan": {"next_change": f"2027-01-{number + 1:02d}", "change_by": f"nurse{number:02d}x"},
    }
    return {"id": name, "status": "final", "wounds": [entry], **head}


def history_of(notes: list[dict[str, Json]], zone: str | None = None) -> History:
    raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1", "kind": "venous leg ulcer"}], "visits": notes}
    return History.of(raw | ({"zone": zone} if zone else {}))


def mark(visit: dict[str, Json]) -> str:
    return str(visit["wounds"][0]["plan"]["change_by"])


def area(visit: dict[str, Json]) -> Decimal:
    return Decimal(visit["wounds"][0]["assessment"]["length"].removesuffix(" cm"))


def text_of(markup: str) -> str:
    return unescape(re.sub(r"<[^>]+>", " ", markup))


def names(history: History) -> dict[str, str]:
    """The newest note by each view, as the mark that only that note has."""
    marks = {visit["id"]: mark(visit) for visit in history.visits}
    said = {visit["wounds"][0]["plan"]["next_change"]: mark(visit) for visit in history.visits}
    record = open_record(history)
    assert record.newest is not None
    found = {"checklist": marks[record.newest.id], "wound": marks[record.wounds[0].newest.visit.id]}  # type: ignore[union-attr]
    first = summary(history).wounds[0]
    assert first.size is not None and first.change_by is not None and first.next_change is not None
    found["summary"] = first.change_by.text
    sized = next(visit for visit in history.visits if first.size.text.startswith(_length(visit)))
    found["summary, size"] = mark(sized)
    found["sheet"] = _only(marks, text_of(sheet_html(history).decode()))
    composition = bundle(history, "document", at="2027-02-01T00:00:00Z")["entry"][0]["resource"]
    divs = [composition["text"]["div"], *(section["text"]["div"] for section in composition["section"])]
    found["narrative"] = _only(marks, text_of(" ".join(divs)))
    found["trend, next change"] = said[course(history, "W1").next_change or ""]
    (chosen,) = gather(history, newest=1).visits
    found["select"] = mark(chosen)
    others = {one.path for one in compare(history, gather(history, newest=1)) if one.kind == "only in A"}
    (left,) = [visit for visit in history.visits if f"visits[{visit['id']}]" not in others]
    found["compare"] = mark(left)
    return found


def _length(visit: dict[str, Json]) -> str:
    return f"{visit['wounds'][0]['assessment']['length']} x"


def _only(marks: dict[str, str], text: str) -> str:
    found = [name for name in marks.values() if name in text]
    return ", ".join(sorted(set(found)))


def drawn(history: History) -> str | None:
    """The note whose area is the last that the chart as SVG names, by its own words."""
    svg = unescape(trend_chart(course(history, "W1")).decode())
    found = re.search(r"(?:to \S+|1 measurement, \S+) \(([\d.]+) cm²\)", svg)
    return None if found is None else next(mark(visit) for visit in history.visits if area(visit) == Decimal(found[1]))


def check_views(history: History) -> str:
    """Hold all views against each other; return the id of the newest note."""
    found = names(history)
    assert len(set(found.values())) == 1, found
    record = open_record(history)
    assert record.newest is not None
    dated = [visit for visit in record.counted if dates.day(visit.at) is not None]
    assert drawn(history) == (mark(dated[-1].data) if dated else None)
    return record.newest.id


# -- records made from outside -----------------------------------------------------------------

WAYS = ("offset", "utc", "local", "day", "month", "written", "nothing")


@dataclass(frozen=True)
class Truth:
    """What happened: when, how it was written, and whether the note counts."""

    at: datetime
    way: str
    counts: bool


def as_written(at: datetime, way: str) -> str | None:
    local = at.astimezone(TORONTO)
    texts = {
        "offset": local.isoformat(),
        "utc": at.isoformat().replace("+00:00", "Z"),
        "local": local.replace(tzinfo=None).isoformat(),
        "day": local.date().isoformat(),
        "month": local.date().isoformat()[:7],
    }
    return texts.get(way)


#: Around an ordinary midnight, and around both nights of 2026 on which the clocks change in Toronto.
STARTS = [
    datetime(2026, 3, 3, 4, tzinfo=UTC),
    datetime(2026, 3, 8, 5, tzinfo=UTC),
    datetime(2026, 11, 1, 4, tzinfo=UTC),
]


@st.composite
def charted(draw: st.DrawFn, ways: tuple[str, ...] = WAYS) -> tuple[History, dict[str, Truth]]:
    start = draw(st.sampled_from(STARTS))
    hours = draw(st.lists(st.integers(-60, 60), min_size=1, max_size=5, unique=True))
    notes, truth, number = [], {}, 0
    for hour in hours:
        at = start + timedelta(hours=hour, minutes=draw(st.sampled_from((0, 30))))
        older: str | None = None
        versions = draw(st.lists(st.sampled_from(("final", "draft", "entered in error")), min_size=1, max_size=3))
        final = max((place for place, status in enumerate(versions) if status == "final"), default=-1)
        for place, status in enumerate(versions):
            name, way = f"n{draw(st.integers(0, 10**6))}-{number}", draw(st.sampled_from(ways))
            written = at + timedelta(minutes=draw(st.sampled_from((5, 600, 4000))) + place)
            head: dict[str, Json] = {"status": "amended" if status == "final" and older else status}
            if (text := as_written(at, way)) is not None:
                head["at"] = text
            if way == "written" or draw(st.booleans()):
                head["written"] = written.isoformat()
            if way == "nothing":
                head.pop("written", None)
            if older is not None:
                head |= {"replaces": older, "replaces_reason": "corrected"}
            notes.append(note(name, number, **head))
            truth[name] = Truth(at, way, place == final)
            older, number = name, number + 1
    random.Random(draw(st.integers())).shuffle(notes)
    return history_of(notes, draw(st.sampled_from((None, "America/Toronto")))), truth


@settings(max_examples=60)
@given(charted())
def test_every_view_names_the_same_newest_note(made: tuple[History, dict[str, Truth]]) -> None:
    history, truth = made
    if any(one.counts for one in truth.values()):
        assert truth[check_views(history)].counts


@settings(max_examples=150)
@given(charted(ways=("offset", "utc", "local")))
def test_the_newest_note_is_the_one_that_happened_last(made: tuple[History, dict[str, Truth]]) -> None:
    history, truth = made
    counted = {name: one for name, one in truth.items() if one.counts}
    clear = all(one.way != "local" or _clear(one.at) for one in counted.values())
    if (
        not counted
        or not (history.data.get("zone") or all(one.way != "local" for one in counted.values()))
        or not clear
    ):
        return
    record = open_record(history)
    assert record.newest is not None and counted[record.newest.id].at == max(one.at for one in counted.values())
    assert [counted[visit.id].at for visit in record.counted] == sorted(one.at for one in counted.values())


def _clear(at: datetime) -> bool:
    """Whether the clock on the wall names one instant."""
    local = at.astimezone(TORONTO).replace(tzinfo=None)
    return len({local.replace(tzinfo=TORONTO, fold=fold).utcoffset() for fold in (0, 1)}) == 1


@settings(max_examples=300)
@given(charted())
def test_what_is_written_about_the_change_is_true(made: tuple[History, dict[str, Truth]]) -> None:
    """Whatever was written vaguely: a change in per cent is that of what truly happened first and last."""
    history, truth = made
    wall = not history.data.get("zone") and any(one.way == "local" and not _clear(one.at) for one in truth.values())
    found = course(history, "W1")
    if wall or len(found.points) < 2:
        return
    happened = sorted(found.points, key=lambda point: truth[point.visit].at)
    first, before, last = happened[0], happened[-2], happened[-1]
    if found.since_first is not None:
        assert found.since_first == (last.area - first.area) * 100 / first.area
    if found.since_last is not None:
        assert found.since_last == (last.area - before.area) * 100 / before.area
    if all(truth[point.visit].way in ("offset", "utc") for point in found.points):
        assert found.since_first is not None, "and it is said where the order is known"


# -- records by hand ---------------------------------------------------------------------------


def by_hand(*heads: tuple[str, dict[str, Json]], zone: str | None = None) -> History:
    return history_of([note(name, number, **head) for number, (name, head) in enumerate(heads)], zone)


ISSUE = by_hand(("a", {"at": "2026-03-02T23:30:00-05:00"}), ("b", {"at": "2026-03-03T00:30:00Z"}))
AMENDED = {"status": "amended", "replaces_reason": "the length was wrong"}
#: Name: (record, newest note, whether a change since the first may be said).
AWKWARD: dict[str, tuple[History, str, bool]] = {
    "an evening in Toronto and one in UTC": (ISSUE, "a", True),
    "the night on which 01:30 comes twice": (
        by_hand(("late", {"at": "2026-11-01T01:10-05:00"}), ("early", {"at": "2026-11-01T01:50-04:00"})), "late", True),
    "01:30 by the clock on the wall on that night": (
        by_hand(("wall", {"at": "2026-11-01 01:30"}), ("utc", {"at": "2026-11-01T06:00Z"}), zone="America/Toronto"),
        "utc", False),
    "an hour that the zone does not have": (
        by_hand(("gap", {"at": "2026-03-08 02:30"}), ("utc", {"at": "2026-03-08T08:00Z"}), zone="America/Toronto"),
        "utc", True),
    "one instant in two offsets": (
        by_hand(("a", {"at": "2026-03-02T10:00-05:00"}), ("b", {"at": "2026-03-02T15:00Z"})), "b", False),
    "one instant in two offsets, written at two times": (
        by_hand(
            ("a", {"at": "2026-03-02T10:00-05:00", "written": "2026-03-02T12:00-05:00"}),
            ("b", {"at": "2026-03-02T15:00Z", "written": "2026-03-02T16:00Z"}),
        ), "a", False),
    "a late entry": (
        by_hand(
            ("new", {"at": "2026-03-09T10:00-04:00", "written": "2026-03-09T10:30-04:00"}),
            ("late", {"at": "2026-03-02T10:00-05:00", "written": "2026-03-11T09:00-04:00"}),
        ), "new", True),
    "an amendment of an amendment": (
        by_hand(
            ("c", {"at": "2026-03-02T10:00-05:00", "replaces": "b", **AMENDED}),
            ("a", {"at": "2026-03-02T10:00-05:00"}),
            ("b", {"at": "2026-03-02T10:00-05:00", "replaces": "a", **AMENDED}),
        ), "c", False),
    "an amendment of a draft of an amendment": (
        by_hand(
            ("a", {"at": "2026-03-05T10:00-05:00"}),
            ("b", {"at": "2026-03-05T10:00-05:00", "replaces": "a", "status": "draft"}),
            ("c", {"at": "2026-03-01T10:00-05:00", "replaces": "b", **AMENDED}),
        ), "c", False),
    "a draft newer than the final note": (
        by_hand(("final", {"at": "2026-03-02"}), ("draft", {"at": "2026-03-09", "status": "draft"})), "final", False),
    "the newest note was entered in error": (
        by_hand(("good", {"at": "2026-03-02"}), ("wrong", {"at": "2026-03-09", "status": "entered in error"})),
        "good", False),
    "two notes without a time": (by_hand(("one", {}), ("two", {})), "two", False),
    "a note without a time after one with a time": (
        by_hand(("timed", {"at": "2026-03-02T10:00-05:00"}), ("none", {})), "timed", False),
    "only the time of writing": (
        by_hand(("at", {"at": "2026-03-02T10:00-05:00"}), ("written", {"written": "2026-03-09T10:00-04:00"})),
        "written", False),
    "a date alone on the day of a timed note": (
        by_hand(("timed", {"at": "2026-03-02T00:15-05:00"}), ("day", {"at": "2026-03-02"}), zone="America/Toronto"),
        "timed", False),
    "a date alone and half past midnight in UTC": (
        by_hand(("day", {"at": "2026-03-02"}), ("utc", {"at": "2026-03-03T00:30Z"}), zone="America/Toronto"),
        "utc", False),
    "a month and a day in it": (by_hand(("month", {"at": "2026-03"}), ("day", {"at": "2026-03-02"})), "day", False),
    "words for a time": (by_hand(("words", {"at": "last week"}), ("day", {"at": "2026-03-02"})), "day", False),
    "a draft whose offset would move the others": (
        by_hand(
            ("utc", {"at": "2026-03-02T14:00Z"}),
            ("wall", {"at": "2026-03-02T12:00"}),
            ("draft", {"at": "2026-03-01T12:00-08:00", "status": "draft"}),
        ), "utc", False),
    "both ends of the calendar": (
        by_hand(("first", {"at": "0001-01-01T00:00+14:00"}), ("last", {"at": "9999-12-31T23:59:59-12:00"})),
        "last", True),
}  # fmt: skip


@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_records_by_hand(name: str) -> None:
    history, newest, said = AWKWARD[name]
    assert check_views(history) == newest
    found = course(history, "W1")
    assert (found.since_first is not None) == said
    shown = summary(history).wounds[0].since_first
    assert (shown is not None and shown.percent is not None) == said
    order = History({**history.data, "visits": history.visits[::-1]}, "turned")
    if newest not in ("b", "two"):  # Where nothing but the order of the file can tell.
        assert check_views(order) == newest


def test_a_smaller_size_after_a_larger_one_is_smaller_in_every_view() -> None:
    """3.0 x 2.0 cm at 04:30 UTC after 4.0 x 2.0 cm at 00:30 UTC: a quarter smaller, by arithmetic."""
    late = note("late", 0, at="2026-03-02T23:30:00-05:00")
    early = note("early", 1, at="2026-03-03T00:30:00Z")
    for one, length, due in ((late, "3.0 cm", "2026-03-09"), (early, "4.0 cm", "2026-03-05")):
        one["wounds"][0]["assessment"] |= {"length": length, "width": "2.0 cm"}
        one["wounds"][0]["plan"]["next_change"] = due
    history = history_of([late, early])
    found, first = course(history, "W1"), summary(history).wounds[0]
    assert found.since_first == -25 and found.larger == () and found.next_change == "2026-03-09"
    assert first.since_first is not None and first.since_first.percent == -25 and "smaller" in first.since_first.text
    svg = unescape(trend_chart(found).decode())
    assert "25 % smaller" in svg and "larger" not in svg
    assert [visit["id"] for visit in gather(history, newest=1).visits] == ["late"]
