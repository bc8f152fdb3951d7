"""What is compared with what: stretches of one way, so many weeks, cut-offs. Arithmetic by hand."""

from __future__ import annotations

import dataclasses
import inspect
from dataclasses import FrozenInstanceError, replace
from decimal import Decimal

import pytest

from tests.measures.test_trend import codes
from tests.measures.weekly import at, weekly
from woundfhir.measures import Measured, Threshold, courses, points, projection, trend
from woundfhir.measures.points import compared
from woundfhir.measures.projection import project_linear

HALF = Threshold(Decimal(50), 4, "a source")


def test_two_sizes_four_weeks_apart_are_the_first_four_weeks_and_the_newest_four() -> None:
    found = trend([Measured(at(0), "4.0 cm", "2.0 cm"), Measured(at(28), "3.0 cm", "2.0 cm")])
    assert found.four_weeks == found.last_four_weeks == found.since_last == -25


@pytest.mark.parametrize("ways", [("ruler", "tracing"), ("tracing", "ruler")])
def test_two_ways_are_never_compared_whatever_their_words(ways: tuple[str, str]) -> None:
    seen = [replace(one, method=way) for one, way in zip(weekly("4.0", "2.0"), ways, strict=True)]
    found = trend(seen)
    assert compared(*found.points)[0] is None and found.since_last is None
    assert [mark.kind for mark in found.breaks] == ["method"]


def test_every_size_stands_in_the_segment_of_its_own_stretch() -> None:
    """Two by ruler, three by tracing, two by ruler again, debrided before the last."""
    ways = ["ruler", "ruler", "tracing", "tracing", "tracing", "ruler", "ruler"]
    lengths = ("4.0", "3.9", "3.8", "3.7", "3.6", "3.5", "3.4")
    seen = [replace(one, method=way) for one, way in zip(weekly(*lengths), ways, strict=True)]
    seen[5] = replace(seen[5], events=("debrided",))
    assert [(one.first, one.last) for one in trend(seen).segments] == [(0, 1), (2, 4), (5, 5), (6, 6)]


def test_of_two_sizes_on_the_day_of_a_cut_off_the_later_counts() -> None:
    hours = [Measured(f"{at(28)}T{hour}:00:00Z", side, "2.0 cm") for hour, side in ((10, "1.0 cm"), (15, "3.0 cm"))]
    first = Measured(f"{at(0)}T10:00:00Z", "4.0 cm", "2.0 cm")
    assert trend([first, *hours], thresholds=[HALF]).thresholds == ((HALF, False),)


def test_an_area_is_always_in_another_unit_than_the_sides_beside_it() -> None:
    assert "mixed-units" not in codes(trend([Measured(at(0), "4.0 cm", "3.0 cm", "1.0 cm", "10 cm2")]))
    assert "mixed-units" in codes(trend([Measured(at(0), "4.0 cm", "30 mm", "1.0 cm", "10 cm2")]))


@pytest.mark.parametrize(("least", "words"), [(0, "three"), (2, "three"), (3, "three"), (5, "5")])
def test_a_line_never_rests_on_fewer_than_three_sizes_and_the_words_give_the_number_in_force(
    least: int, words: str
) -> None:
    """J Wound Care 2006;15:299-303: three at least."""
    days, areas = [Decimal(0), Decimal(7)], [Decimal(4), Decimal(2)]
    assert project_linear(days, areas, least_points=least).reason == f"fewer than {words} measurements"


def test_what_was_computed_cannot_be_changed_afterwards() -> None:
    """Two readers of one course see the same; common practice for results that are kept."""
    kinds = [
        kind for module in (courses, points, projection) for kind in vars(module).values()
        if inspect.isclass(kind) and dataclasses.is_dataclass(kind)
    ]  # fmt: skip
    made = trend([Measured(at(-7), area="3 cm2"), *weekly("4.0", "5.0")], thresholds=[HALF])
    seen = [Measured(at(0)), HALF, made, made.points[0], made.remarks[0], made.breaks[0], made.projection]
    assert {type(one) for one in seen} >= set(kinds) - {type(one.when) for one in made.points}
    for one in seen:
        name = dataclasses.fields(one)[0].name  # type: ignore[arg-type]
        with pytest.raises(FrozenInstanceError):
            setattr(one, name, None)
        assert len({one, replace(one)}) == 1  # type: ignore[type-var]
