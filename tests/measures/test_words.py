"""How a measure and a course read: digits, rounding, sentences. Arithmetic by hand."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.measures.weekly import at, weekly
from woundfhir.measures import Measured, Threshold, trend
from woundfhir.measures.rounding import area_text, rounded
from woundfhir.measures.words import cut_off_text, described


@pytest.mark.parametrize(
    ("area", "words"),
    [("10", "10.0"), ("10.04", "10.0"), ("10.05", "10.1"), ("9.994", "9.99"), ("9.9", "9.90"), ("0.005", "0.01")],
)
def test_an_area_has_a_tenth_from_ten_on_and_a_hundredth_below(area: str, words: str) -> None:
    assert area_text(Decimal(area)) == f"{words} cm²"


def test_a_volume_has_no_more_digits_than_the_side_that_has_fewest_and_an_area_knows_no_depth() -> None:
    """NIST Special Publication 811, 2008, B.7.1 (from memory): a depth in inches, beside sides in centimetres."""
    point = trend([Measured(at(0), "3.81 cm", "2.54 cm", "0.5 [in_i]")]).points[0]
    assert (point.area_digits, point.volume_digits) == (None, 2)


@pytest.mark.parametrize("digits", [1, 2, 79, 80, 81, 200])
def test_rounding_to_more_digits_than_are_there_changes_nothing_and_never_fails(digits: int) -> None:
    long = Decimal("1." + "2" * 99)
    assert rounded(Decimal("3.81"), 3) == Decimal("3.81")
    assert abs(rounded(long, digits) - long) <= Decimal(1).scaleb(1 - digits)


@pytest.mark.parametrize(
    ("reached", "missed", "words"),
    [
        (True, None, "reached"),
        (True, "rather large", "reached"),
        (None, "rather large", "no measurement to compare"),
        (False, None, "not reached"),
        (False, "rather large", "rather large"),
    ],
)
def test_other_words_are_used_only_where_a_cut_off_was_missed(
    reached: bool | None, missed: str | None, words: str
) -> None:
    assert cut_off_text(Threshold(Decimal(40), 4, "a source"), reached, missed) == f"40 % smaller at 4 weeks: {words}"


def test_a_course_reads_as_sentences() -> None:
    seen = weekly("4.0", "3.0", "3.5")
    seen[1:1] = [Measured(at(3), events=("debrided",))]
    said = described(trend(seen, thresholds=[Threshold(Decimal(40), 4, "a source")]))
    assert "Debrided in between" in said and "debrided" not in said.replace("Debrided", "")
    assert said.startswith("3 measurements, 2026-03-01 (8.00 cm²) to 2026-03-15 (7.00 cm²). Since 2026-03-01")
    assert "13 % smaller" in said and said.endswith(".")
