"""Order in time: what a date can mean, and what is certain. The instants are counted by hand or by ``zoneinfo``."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from woundfhir.chart.time import NO_TIME, Clock, When, certain

TORONTO = ZoneInfo("America/Toronto")


#: (zone, one, other, one is certainly earlier, other is certainly earlier, which stands first: 0 or 1)
ORDER = [
    # 23:30-05:00 on 2 March is 04:30 UTC on 3 March.
    (None, "2026-03-03T00:30:00Z", "2026-03-02T23:30:00-05:00", True, False),
    # One instant in two offsets.
    (None, "2026-03-02T10:00:00-05:00", "2026-03-02T15:00:00Z", False, False),
    # Newfoundland is half an hour off (UTC-3:30).
    (None, "2026-03-02T10:45:00-03:30", "2026-03-02T14:15:00Z", False, False),
    # A whole day is not before an instant of that day, and stands before it.
    ("America/Toronto", "2026-03-02", "2026-03-02T00:00:01-05:00", False, False),
    ("America/Toronto", "2026-03-02", "2026-03-02T23:59:59-05:00", False, False),
    ("America/Toronto", "2026-03-02", "2026-03-03T00:00:00-05:00", True, False),
    # 00:30 UTC on 3 March is still 2 March in Toronto.
    ("America/Toronto", "2026-03-02", "2026-03-03T00:30:00Z", False, False),
    # Without a zone the offset that the record writes says which day it is, but for the hour of a summer time that
    # the record does not show; UTC alone says nothing.
    (None, "2026-03-02", "2026-03-03T01:30:00-05:00", True, False),
    (None, "2026-03-02", "2026-03-03T00:30:00-05:00", False, False),
    (None, "2026-03-02", "2026-03-03T00:30:00Z", False, False),
    (None, "2026-03-02", "2026-03-03T12:30:00Z", True, False),
    # Local times among themselves go by the clock on the wall; against UTC they can be half a day off.
    (None, "2026-03-02T10:00:00", "2026-03-02T10:01:00", True, False),
    (None, "2026-03-02T10:00:00", "2026-03-02T20:00:00Z", False, False),
    ("America/Toronto", "2026-03-02T10:00:00", "2026-03-02T15:30:00Z", True, False),
    # UTC-12 to UTC+14 are the offsets on earth (IANA time zone database).
    (None, "2026-03-02T10:00:00", "2026-03-02T22:00:00Z", False, False),
    (None, "2026-03-02T10:00:00", "2026-03-02T22:00:01Z", True, False),
    (None, "2026-03-01T19:59:59Z", "2026-03-02T10:00:00", True, False),
    (None, "2026-03-01T20:00:00Z", "2026-03-02T10:00:00", False, False),
    # A millionth of a second is told apart.
    (None, "2026-03-02T10:00:00.999999Z", "2026-03-02T10:00:01Z", True, False),
    # Clocks on Lord Howe Island go half an hour forward, at 02:00 (15:30 UTC) on 4 October 2026: 02:45 is there once.
    ("Australia/Lord_Howe", "2026-10-04T02:45:00", "2026-10-03T15:45:01Z", True, False),
    # The night of 1 November 2026: 01:30 comes twice in Toronto (05:30 and 06:30 UTC).
    ("America/Toronto", "2026-11-01T01:30:00", "2026-11-01T06:00:00Z", False, False),
    ("America/Toronto", "2026-11-01T01:30:00", "2026-11-01T06:31:00Z", True, False),
    ("America/Toronto", "2026-11-01T01:50:00-04:00", "2026-11-01T01:10:00-05:00", True, False),
    # The night of 8 March 2026: 02:30 does not exist in Toronto.
    ("America/Toronto", "2026-03-08T02:30:00", "2026-03-08T07:31:00Z", True, False),
    # Partial dates.
    (None, "2026-03", "2026-03-02T10:00:00-05:00", False, False),
    (None, "2026-02", "2026-03-02T10:00:00-05:00", True, False),
    (None, "2026", "2026-12-31", False, False),
    (None, "2025", "2026-01", True, False),
    # The last and the first day that can be written; a leap second.
    (None, "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", True, False),
    (None, "2016-12-31T23:59:60Z", "2017-01-01T00:00:01Z", True, False),
]


@pytest.mark.parametrize(("zone", "one", "other", "earlier", "later"), ORDER)
def test_what_is_certain_and_what_is_not(zone: str | None, one: str, other: str, earlier: bool, later: bool) -> None:
    clock = Clock(zone, [one, other])
    first, second = clock.when(one), clock.when(other)
    assert (first.before(second), second.before(first)) == (earlier, later)
    assert first.order <= second.order


def test_two_offsets_of_a_record_bound_what_a_local_time_can_mean() -> None:
    """Clocks have changed already: 10:00 is 14:00 or 15:00 UTC, and no hour more or less."""
    clock = Clock(None, ["2026-10-31T10:00:00-04:00", "2026-11-02T10:00:00-05:00"])
    local, *others = (
        clock.when(f"2026-11-01T{at}") for at in ("10:00:00", "13:59:59Z", "15:00:00Z", "15:00:00.000001Z")
    )
    assert [local.before(other) for other in others] == [False, False, True]
    assert [other.before(local) for other in others] == [True, False, False]


@pytest.mark.parametrize(
    ("zone", "text", "knows"),
    [
        (None, "2026-03-05T10:00:00-05:00", True),
        (None, "2026-03-05T10:00:00-04:00", False),  # two offsets: clocks have changed
        (None, "2026-03-05T10:00:00Z", True),  # UTC says nothing of where it was
        (None, "2026-03-05T10:00:00", True),
        (None, "2026-03-05", True),
        ("America/Toronto", "2026-03-05T10:00:00-04:00", True),
    ],
)
def test_one_more_time_changes_what_others_can_mean_only_by_a_new_offset(
    zone: str | None, text: str, knows: bool
) -> None:
    written = ["2026-03-02T10:00:00-05:00", "2026-03-02T10:00:00"]
    clock = Clock(zone, written)
    assert clock.knows(text) is knows
    again = Clock(zone, [*written, text])
    assert ([again.when(one) for one in written] == [clock.when(one) for one in written]) is knows


def test_a_note_without_a_time_is_never_certainly_before_or_after_another() -> None:
    others = [Clock().when(at) for at in ("0001-01-01", "2026-03-02T10:00:00-05:00", "9999-12-31T23:59:59")]
    assert not any(NO_TIME.before(other) or other.before(NO_TIME) for other in (*others, NO_TIME))
    assert certain([NO_TIME]) == [True]
    assert certain([NO_TIME, others[1]]) == [False, False]


def test_a_day_and_a_clock_time_of_that_day_are_in_no_certain_order_on_any_wall() -> None:
    days = ("2026-03-01T10:00", "2026-03-02", "2026-03-02T10:00", "2026-03-03")
    assert certain([Clock().when(at) for at in days]) == [True, False, False, True]


@pytest.mark.parametrize("at", ["2026-03-02T10:00", "2026-03-02T10:00-05:00", "2026-03-02", "2026-03"])
def test_two_notes_of_one_time_are_in_no_certain_order_and_a_microsecond_makes_one(at: str) -> None:
    clock = Clock(None, ["2026-03-02T10:00-05:00"] if "-05:00" in at else [])
    assert certain([clock.when(at)] * 2) == [False, False]
    if "T" in at:
        later = at.replace("10:00", "10:00:00.000001")
        assert certain([clock.when(at), clock.when(later)]) == [True, True]


def test_a_time_of_writing_stands_in_as_the_latest_that_it_can_have_been() -> None:
    clock = Clock("America/Toronto")
    undated = clock.when(None, "2026-03-09T10:00:00-04:00")
    assert undated.before(clock.when("2026-03-10")) and not clock.when("2026-03-01").before(undated)
    assert clock.when("2026-03-08").order < undated.order < clock.when("2026-03-10").order
    assert clock.when("last week") == clock.when(None, "then") == clock.when({"absent": "unknown"}) == NO_TIME


@given(st.datetimes(datetime(1970, 1, 1), datetime(2037, 1, 1)), st.sampled_from((0, 1)))
def test_a_local_time_of_a_zone_means_the_instants_that_zoneinfo_gives(local: datetime, fold: int) -> None:
    """Outside check: ``zoneinfo`` (IANA time zone database)."""
    expected = local.replace(tzinfo=TORONTO, fold=fold).astimezone(UTC)
    written = Clock("America/Toronto").when(local.isoformat(timespec="microseconds"))
    instant = Clock().when(expected.isoformat(timespec="microseconds"))
    assert written.first <= instant.first <= written.last


@given(*[st.datetimes(datetime(1970, 1, 1), datetime(2037, 1, 1))] * 2)
def test_clock_times_stand_as_far_apart_as_their_clocks(one: datetime, other: datetime) -> None:
    """Outside check: ``datetime``; to the microsecond, with no offset and with one."""
    apart = (other - one) // timedelta(microseconds=1)
    for offset in ("", "-03:30"):
        first, second = (Clock().when(at.isoformat(timespec="microseconds") + offset) for at in (one, other))
        assert second.order - first.order == second.first - first.first == second.last - first.last == apart
        assert (first.wall is None) == (second.wall is None) == bool(offset)
        if first.wall and second.wall:
            assert [second.wall[end] - first.wall[end] for end in (0, 1)] == [apart, apart]


offsets = st.sampled_from(("", "Z", "-05:00", "-04:00", "+14:00", "-12:00", "+00:00"))
clocks = st.builds(
    lambda day, hour, offset: f"2026-03-{day:02d}T{hour:02d}:30:00{offset}",
    st.integers(1, 4),
    st.integers(0, 23),
    offsets,
)
texts = st.one_of(clocks, st.builds(lambda day: f"2026-03-{day:02d}", st.integers(1, 4)), st.just("2026-03"))
zones = st.sampled_from((None, "America/Toronto", "-05:00", "Nowhere/Town"))


@given(zones, st.lists(texts, max_size=6), st.booleans())
def test_certainty_is_an_order_and_agrees_with_the_place(zone: str | None, written: list[str], undated: bool) -> None:
    clock = Clock(zone, written)
    times = [clock.when(text) for text in written] + ([clock.when(None, "2026-03-02")] if undated else [])
    for one in times:
        assert not one.before(one) and one.first <= one.last
        for other in times:
            if one.before(other):
                assert not other.before(one) and one.order < other.order
                assert all(one.before(third) for third in times if other.before(third) and _alike(one, other, third))


def _alike(*times: When) -> bool:
    """Clocks on the wall and instants are compared in two ways; within one way the order is transitive."""
    return len({one.wall is None for one in times}) == 1


@given(zones, st.lists(texts, max_size=7))
def test_certain_is_that_of_comparing_each_with_each(zone: str | None, written: list[str]) -> None:
    clock = Clock(zone, written)
    times = sorted((clock.when(text) for text in written), key=lambda one: one.order)
    slow = [
        all(other.before(one) for other in times[:place]) and all(one.before(other) for other in times[place + 1 :])
        for place, one in enumerate(times)
    ]
    assert certain(times) == slow
