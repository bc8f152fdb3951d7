"""Drawings where no SVG may stand: rows, bars, lines of blocks, and pictures as addresses."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from woundfhir.drawing import bar, spark, trend_rows
from woundfhir.measures import Course, Measured, trend

values = st.lists(st.decimals(min_value=0, max_value=500, places=1), max_size=200)


def course(count: int) -> Course:
    start = date(2026, 3, 2)
    days = [(start + timedelta(days=7 * n)).isoformat() for n in range(count)]
    return trend([Measured(day, f"{4 + n % 2}.0 cm", "3.0 cm", "1 cm") for n, day in enumerate(days)])


@given(values, st.integers(1, 60))
def test_a_spark_is_as_long_as_asked_and_keeps_its_ends(found: list[Decimal], width: int) -> None:
    for ascii_only in (False, True):
        line = spark(found, width=width, ascii_only=ascii_only)
        assert len(line) == min(len(found), width)
        assert line.isascii() or not ascii_only
    if len(found) > width > 1 and max(found) > 0 and found[-1] == max(found):
        assert spark(found, width=width)[-1] == "\u2588"


def test_a_spark_rises_with_its_values_and_takes_what_is_below_zero_as_zero() -> None:
    assert spark([Decimal(n) for n in range(8)]) == "\u2581\u2582\u2583\u2584\u2585\u2586\u2587\u2588"
    assert spark([Decimal(-5), Decimal(1)], ascii_only=True) == "_#"
    assert spark([]) == "" and spark([Decimal(0)], ascii_only=True) == "_"


@given(st.decimals(0, 100, places=2), st.decimals(0, 100, places=2))
def test_a_bar_is_never_longer_than_its_width_and_never_hides_what_is_there(value: Decimal, top: Decimal) -> None:
    length = len(bar(value, top, width=20))
    assert 0 <= length <= 20
    assert (length > 0) == (value > 0 and top > 0)


def test_rows_tell_sizes_changes_and_breaks() -> None:
    made = trend(
        [
            Measured("2026-03-02", "4.10 cm", "3.0 cm", "1 cm", method="ruler"),
            Measured("2026-03-30", "2.0 cm", "3.0 cm", method="ruler"),
            Measured("2026-04-02", area="5.0 cm2", method="tracing"),
        ]
    )
    head, rows = trend_rows(made, ascii_only=True)
    assert all(len(row) == len(head) for row in rows)
    assert rows[0] == ("2026-03-02", "4.10", "3.0", "1", "12.3 cm\u00b2", "", "", "#" * 20)
    assert rows[1][5:7] == ("51 % smaller", "more than 14 days in between")
    assert rows[2][1:7] == ("", "", "", "5.00 cm\u00b2", "", "measured in another way")


def test_a_long_course_is_cut_in_the_middle_and_says_so() -> None:
    rows = trend_rows(course(100), most=10)[1]
    assert len(rows) == 11
    assert rows[1][6] == "90 measurements left out here"
    assert (rows[0][0], rows[-1][0]) == (course(100).points[0].day.isoformat(), course(100).points[-1].day.isoformat())
    assert len(trend_rows(course(10), most=10)[1]) == 10
