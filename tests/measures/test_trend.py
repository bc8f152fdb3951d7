"""The trend of a list of measurements: one way of measuring, breaks marked, no wrong number from bad input."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from tests.measures.weekly import at, weekly
from woundfhir.measures import Course, Measured, Threshold, trend
from woundfhir.measures.points import compared
from woundfhir.measures.rounding import percent_text


def codes(found: Course) -> list[str]:
    return [remark.code for remark in found.remarks]


def test_a_steady_course_gives_its_numbers() -> None:
    """Arithmetic by hand: areas 8, 6, 4, 2 and 1 cm2 in four weeks."""
    found = trend(weekly("4.0", "3.0", "2.0", "1.0", "0.5"), thresholds=[Threshold(Decimal(50), 4, "a source")])
    assert [point.area for point in found.points] == [8, 6, 4, 2, 1]
    assert (found.since_first, found.since_last, found.four_weeks, found.last_four_weeks) == (
        Decimal("-87.5"), -50, Decimal("-87.5"), Decimal("-87.5")
    )  # fmt: skip
    assert found.thresholds[0][1] is True
    assert found.rate is not None and round(found.rate, 6) == Decimal("0.519860")  # ln(8) / 4
    assert found.half_life is not None and round(found.half_life, 4) == Decimal("1.3333")
    assert found.advance is not None and found.advance > 0
    assert found.segments == ((0, 4, ()),) and not found.breaks and not found.remarks
    assert found.points[0].volume == Decimal("0.327") * 4


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("-0.999", "less than 1 % smaller"),
        ("-1", "1 % smaller"),
        ("1", "1 % larger"),
        ("1.5", "2 % larger"),
        ("-100", "100 % smaller"),
    ],
)
def test_a_change_is_given_in_whole_per_cent(change: str, words: str) -> None:
    assert percent_text(Decimal(change)) == words


@pytest.mark.parametrize(("days", "weekly_advance"), [(3, Decimal(7) / 3), (7, Decimal(1)), (28, Decimal("0.25"))])
def test_the_edge_of_a_circle_advances_by_the_difference_of_its_radii(days: int, weekly_advance: Decimal) -> None:
    """Gilman 1990: radius 2 cm, then 1 cm."""
    found = trend([Measured(at(0), "4 cm", "4 cm"), Measured(at(days), "2 cm", "2 cm")])
    assert found.advance is not None and round(found.advance - weekly_advance, 12) == 0


def test_the_first_four_weeks_and_the_newest_four_weeks_are_two_numbers() -> None:
    found = trend(weekly("8.0", "6.0", "4.0", "4.0", "4.0", "4.0", "3.0"))
    assert (found.four_weeks, found.last_four_weeks) == (-50, -25)


@pytest.mark.parametrize(
    ("seen", "code", "index"),
    [
        (Measured(at(0), "-4 cm", "3 cm"), "below-zero", 0),
        (Measured(at(0), "4.0", "3 cm"), "unit", 0),
        (Measured(at(0), "4 mL", "3 cm"), "unit", 0),
        (Measured(at(0), "4 cm2", "3 cm"), "unit", 0),
        (Measured(at(0), "<4 cm", "3 cm"), "not-exact", 0),
        (Measured(at(0), "about 4 cm", "3 cm"), "words", 0),
        (Measured(at(0), "4,1 cm", "3 cm"), "words", 0),
        (Measured(at(0), "4 cm"), "half-size", 0),
        (Measured(at(0), "301 cm", "3 cm"), "too-large", 0),
        (Measured(at(0), area="4 m2"), "unit", 0),
        (Measured(at(0), area="30001 cm2"), "too-large", 0),
        (Measured(at(0), "0 cm", "3 cm"), "half-zero", 0),
        (Measured("2026-03", "4 cm", "3 cm"), "no-day", 0),
        (Measured("", "4 cm", "3 cm"), "no-day", 0),
        (Measured("2026-02-30", "4 cm", "3 cm"), "no-day", 0),
    ],
)
def test_a_size_that_cannot_be_used_is_left_out_and_remarked(seen: Measured, code: str, index: int) -> None:
    found = trend([seen, *weekly("5.0", "4.0")[1:]])
    assert [(r.code, r.index) for r in found.remarks if r.code == code] == [(code, index)]
    assert len(found.points) == 1 and found.since_first is None


def test_two_units_in_one_measurement_are_converted_and_asked_about() -> None:
    found = trend([Measured(at(0), "40 mm", "3.0 cm", "1 cm")])
    assert found.points[0].area == 12 and codes(found) == ["mixed-units"]


def test_a_missing_depth_is_reported_at_the_newest_measurement_and_gives_no_volume() -> None:
    found = trend([Measured(at(0), "4 cm", "3 cm"), Measured(at(7), "4 cm", "3 cm")])
    assert codes(found) == ["no-depth"] and found.remarks[0].index == 1
    assert found.points[-1].volume is None
    assert trend([Measured(at(0), "4 cm", "3 cm", "0 cm")]).points[0].volume is None


def test_two_at_one_time_are_both_kept_and_nothing_is_computed_from_their_order() -> None:
    here = Measured("2026-03-01T10:00:00-05:00", "4 cm", "3 cm", "1 cm")
    same = Measured("2026-03-01T15:00:00Z", "6 cm", "3 cm", "1 cm")
    found = trend([here, same])
    assert codes(found) == ["order"] and found.remarks[0].index == 1
    assert [point.length for point in found.points] == [4, 6]
    assert found.since_first is found.since_last is found.rate is found.advance is None and found.larger == ()
    assert compared(*found.points) == (None, "the order in time is not certain")
    assert len(trend([here, Measured("2026-03-01T16:00:00Z", "6 cm", "3 cm", "1 cm")]).points) == 2


def test_two_on_one_day_give_no_rate_and_no_division_by_zero() -> None:
    clocks = [Measured(f"{at(0)}T{hour}:00:00Z", f"{hour} cm", "1 cm", "1 cm") for hour in (12, 11, 10)]
    found = trend(reversed(clocks))
    assert found.rate is None and found.advance is None and found.projection.days is None
    assert found.projection.reason == "no change in time or in area"


def test_days_never_run_backwards_across_offsets() -> None:
    """A visit east of the date line can be earlier in time and later in the calendar: the instant decides."""
    east = Measured("2026-03-02T00:30:00+14:00", "4 cm", "3 cm", "1 cm")
    west = Measured("2026-03-01T23:00:00-05:00", "5 cm", "3 cm", "1 cm")
    found = trend([east, west])
    assert [p.length for p in found.points] == [4, 5]
    assert [p.day.day for p in found.points] == [2, 2] and [p.date.day for p in found.points] == [2, 1]


def test_a_whole_day_is_not_compared_with_an_instant_of_that_day() -> None:
    """The newest cannot be told, so that nothing is said of it; what lies before both is certain."""
    found = trend(
        [*weekly("4.0", "3.0"), Measured(at(14), "2 cm", "2 cm"), Measured(f"{at(14)}T10:00:00Z", "5 cm", "2 cm")]
    )
    assert [p.certain for p in found.points] == [True, True, False, False]
    assert found.since_first is found.since_last is found.last_four_weeks is None and found.larger == ()
    assert found.projection.reason == "the order of the newest measurements in time is not certain"


def test_nothing_is_compared_across_a_closure() -> None:
    """Sizes 4, 2 and 0 cm, closed; open again with 3 and 2 cm: a third smaller since it opened again."""
    lengths = ("4.0", "2.0", "0", "3.0", "2.0")
    seen = [replace(one, episode=number // 3) for number, one in enumerate(weekly(*lengths))]
    seen[2] = replace(seen[2], width="0 cm")
    found = trend(seen, thresholds=[Threshold(Decimal(50), 4, "a source")])
    assert [(mark.kind, mark.before) for mark in found.breaks] == [("closure", "3")]
    assert [p.area for p in found.stretch] == [6, 4] and found.larger == ()
    assert found.since_first == found.since_last == Decimal(-100) / 3
    assert found.four_weeks is None and found.projection.reason == "fewer than three measurements"


def test_unsorted_visits_are_sorted_and_reported_once() -> None:
    found = trend(list(reversed(weekly("4.0", "3.0", "2.0"))))
    assert codes(found) == ["unsorted"]
    assert found == trend(list(reversed(weekly("4.0", "3.0", "2.0"))))
    assert found.since_first == trend(weekly("4.0", "3.0", "2.0")).since_first == -50


def test_an_area_of_zero_at_the_start_gives_no_per_cent() -> None:
    found = trend(weekly("4.0", "3.0") and [Measured(at(0), "0 cm", "0 cm"), *weekly("1", "4.0", "3.0")[1:]])
    assert "zero-start" in codes(found)
    assert found.since_first is None and found.rate is None and found.advance is None


def test_a_closed_wound_is_a_hundred_per_cent_smaller_and_is_not_projected() -> None:
    found = trend([*weekly("4.0", "2.0"), Measured(at(14), "0 cm", "0 cm")])
    assert found.since_first == -100 and found.rate is None
    assert found.projection.reason == "the newest area is zero"
    assert found.advance is not None and found.advance > 0


def test_only_sizes_of_the_newest_way_are_compared() -> None:
    """Nothing is computed from a ruler to a tracing; rulers before and after a tracing are one way."""
    tracing = Measured(at(14), area="5.0 cm2", method="tracing")
    found = trend([*weekly("4.0", "3.0", method="ruler"), tracing])
    assert found.since_first is None and len(found.stretch) == 1
    assert [(mark.kind, mark.before) for mark in found.breaks] == [("method", "2")]
    back = trend([*weekly("4.0", "3.0", method="ruler"), tracing, Measured(at(21), "2.0 cm", "2.0 cm", method="ruler")])
    assert back.since_first == -50 and [p.area for p in back.stretch] == [8, 6, 4]
    assert [(s.first, s.last) for s in back.segments] == [(0, 1), (2, 2), (3, 3)]


def test_a_written_area_is_not_compared_with_length_times_width() -> None:
    found = trend([Measured(at(0), "4 cm", "3 cm"), Measured(at(7), area="9 cm2")])
    ways = ["length x width, method not written", "area as written, method not written"]
    assert [p.way for p in found.points] == ways
    assert found.since_first is None


def test_an_event_at_a_visit_without_a_size_is_a_break_too() -> None:
    found = trend([*weekly("4.0"), Measured(at(3), events=("debrided",)), *weekly("0", "5.0")[1:]])
    assert [(mark.kind, mark.reason) for mark in found.breaks] == [("event", "debrided in between")]
    assert found.segments == ((0, 0, ()), (1, 1, ("debrided in between",)))


@pytest.mark.parametrize(("days", "marked"), [(14, False), (15, True)])
def test_a_gap_of_more_than_two_weeks_is_a_break_where_no_policy_says_otherwise(days: int, marked: bool) -> None:
    found = trend([*weekly("4.0"), Measured(at(days), "3 cm", "2 cm", "1 cm")])
    assert [mark.kind for mark in found.breaks] == (["gap"] if marked else [])


def test_larger_is_flagged_as_a_question_and_no_diagnosis() -> None:
    found = trend(weekly("4.0", "5.0", "3.0", "6.0"))
    assert found.larger == (1, 3)
    (said,) = [remark.message for remark in found.remarks if remark.code == "larger"]
    assert said.endswith("?") and not re.search("infect|deteriorat|worse", said)


@pytest.mark.parametrize(
    ("days", "length", "reached"),
    [
        (7, "1.0", None),  # not near four weeks
        (22, "3.0", None),  # before the time: not reached cannot be said
        (22, "2.0", True),  # before the time: reached can
        (28, "2.4", False),
        (28, "2.0", True),  # exactly on it
        (35, "3.0", False),
        (36, "1.0", None),
    ],
)
def test_a_cut_off_is_judged_near_its_time_only(days: int, length: str, reached: bool | None) -> None:
    cut = Threshold(Decimal(50), 4, "a source")
    found = trend([*weekly("4.0"), Measured(at(days), f"{length} cm", "2.0 cm")], thresholds=[cut])
    assert found.thresholds == ((cut, reached),)


def test_a_size_before_its_time_never_says_that_a_cut_off_was_not_reached() -> None:
    cut = Threshold(Decimal(50), 4, "a source")
    early = [*weekly("4.0"), Measured(at(24), "3.0 cm", "2.0 cm")]
    assert trend([*early, Measured(at(60), "1.0 cm", "2.0 cm")], thresholds=[cut]).thresholds[0][1] is None
    assert trend([*early, Measured(at(35), "1.0 cm", "2.0 cm")], thresholds=[cut]).thresholds[0][1] is True
    assert trend([*early, Measured(at(35), "2.5 cm", "2.0 cm")], thresholds=[cut]).thresholds[0][1] is False


def test_nothing_gives_nothing() -> None:
    found = trend([])
    assert found.points == () and found.projection.reason == "no measurements" and found.since_first is None
