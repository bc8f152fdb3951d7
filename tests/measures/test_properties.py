"""Properties of the measures, and scipy as the reference for the fit."""

from __future__ import annotations

import doctest
import pkgutil
from decimal import Decimal
from importlib import import_module

import pytest
from hypothesis import given
from hypothesis import strategies as st

import woundfhir.measures as measures
from woundfhir.measures import MeasureError, change, scales, size, units

sides = st.decimals(min_value=Decimal("0.1"), max_value=Decimal(60), places=1)
areas = st.decimals(min_value=Decimal("0.1"), max_value=Decimal(500), places=1)


@given(sides, sides, st.integers(2, 9))
def test_areas_scale_with_the_square(length: Decimal, width: Decimal, by: int) -> None:
    assert size.area_rectangle(length * by, width * by) == size.area_rectangle(length, width) * by * by
    assert size.area_rectangle(length, width) == size.area_rectangle(width, length)
    assert size.area_ellipse(length, width) < size.area_rectangle(length, width)


@given(areas, areas, st.integers(2, 9))
def test_percent_change_does_not_depend_on_the_unit_and_has_the_sign_of_the_change(a: Decimal, b: Decimal, by: int) -> None:
    found = change.percent_area_change(a, b)
    assert abs(change.percent_area_change(a * by, b * by) - found) < Decimal("1e-9")
    assert (found > 0) == (b > a) and found >= -100
    assert change.percent_area_change(a, a) == 0 and change.percent_area_change(a, Decimal(0)) == -100


@given(areas, areas, st.integers(0, 3), st.integers(0, 4))
def test_push_stays_in_its_bounds_and_grows_with_the_area(a: Decimal, b: Decimal, exudate: int, tissue: int) -> None:
    assert 0 <= scales.push_total(a, exudate, tissue) <= 17
    low, high = sorted((a, b))
    assert scales.push_area_score(low) <= scales.push_area_score(high)


@given(st.lists(areas, min_size=3, max_size=12))
def test_the_fit_agrees_with_scipy(found: list[Decimal]) -> None:
    """scipy.stats.linregress as the reference for slope and r."""
    from scipy.stats import linregress

    days = [Decimal(7 * n) for n in range(len(found))]
    made = change.project_linear(days, found)
    if len(set(found)) == 1:
        assert made.r is None and made.reason
        return
    reference = linregress([float(d) for d in days], [float(a) for a in found])
    assert made.r is not None and abs(float(made.r) - reference.rvalue) < 1e-6
    if made.days is not None:
        assert abs(float(made.days) - (-reference.intercept / reference.slope)) < 1e-3 * max(1, abs(float(made.days)))
    else:
        assert reference.slope > -1e-12 or abs(reference.rvalue) <= 0.850001


@pytest.mark.parametrize("bad", [Decimal(0), Decimal(-1), Decimal("NaN")])
def test_a_size_of_zero_or_below_is_refused(bad: Decimal) -> None:
    for work in (
        lambda: size.area_rectangle(bad, Decimal(1)),
        lambda: size.volume_kundin(Decimal(1), Decimal(1), bad),
        lambda: change.percent_area_change(bad, Decimal(1)),
        lambda: change.log_rate(Decimal(1), bad, Decimal(1)),
    ):
        with pytest.raises(MeasureError):
            work()


@pytest.mark.parametrize(("unit", "wanted"), [(None, "cm"), ("cm2", "cm"), ("furlong", "cm"), ("mL", "cm2")])
def test_units_are_checked_and_never_assumed(unit: str | None, wanted: str) -> None:
    with pytest.raises(MeasureError):
        units.to_unit(Decimal(1), unit, wanted)


def test_an_inch_is_two_point_five_four_centimetres() -> None:
    """International inch, 1959."""
    assert units.to_unit(Decimal(2), "[in_i]", "cm") == Decimal("5.08")


def test_every_example_in_the_docstrings_runs() -> None:
    for found in pkgutil.iter_modules(measures.__path__):
        assert doctest.testmod(import_module(f"woundfhir.measures.{found.name}")).failed == 0, found.name
