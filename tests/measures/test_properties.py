"""Properties of the measures, scipy as the reference for the fits, and the examples in the docstrings."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from functools import lru_cache
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import woundfhir.measures as m
from woundfhir.measures import MeasureError
from woundfhir.measures.infection import DEEP, LOCAL

sides = st.decimals(min_value=Decimal("0.1"), max_value=Decimal(60), places=1)
areas = st.decimals(min_value=Decimal("0.1"), max_value=Decimal(500), places=1)
small = Decimal("1e-9")


@given(sides, sides, sides, st.integers(2, 9))
def test_sizes_scale_and_do_not_depend_on_the_order_of_the_sides(a: Decimal, b: Decimal, c: Decimal, by: int) -> None:
    assert m.area_rectangle(a * by, b * by) == m.area_rectangle(a, b) * by * by
    assert m.area_rectangle(a, b) == m.area_rectangle(b, a)
    assert abs(m.area_ellipse(a * by, b * by) - m.area_ellipse(a, b) * by * by) < small
    assert m.area_ellipse(a, b) < m.area_rectangle(a, b)
    assert m.volume_kundin(a * by, b * by, c * by) == m.volume_kundin(a, b, c) * by**3


@given(sides, sides)
def test_the_perimeter_lies_between_the_circles_and_agrees_with_scipy(a: Decimal, b: Decimal) -> None:
    """scipy.special.ellipe, the complete elliptic integral, as the reference for Ramanujan's approximation."""
    from scipy.special import ellipe

    long, short = max(a, b), min(a, b)
    found = float(m.perimeter_ellipse(a, b))
    exact = 2 * float(long) * ellipe(1 - float(short / long) ** 2)
    assert math.pi * float(short) - 1e-9 <= found <= math.pi * float(long) + 1e-9
    assert math.isclose(found, exact, rel_tol=5e-3)
    if long <= 5 * short:
        assert math.isclose(found, exact, rel_tol=2.2e-4)


@given(areas, areas, st.integers(2, 9))
def test_percent_change_has_the_sign_of_the_change_and_no_unit(a: Decimal, b: Decimal, by: int) -> None:
    found = m.percent_area_change(a, b)
    assert abs(m.percent_area_change(a * by, b * by) - found) < small
    assert (found > 0) == (b > a) and found >= -100
    assert m.percent_area_reduction(a, b) == -found
    assert m.percent_area_change(a, a) == 0 and m.percent_area_change(a, Decimal(0)) == -100


@given(sides, sides)
def test_gilman_is_the_difference_of_radii_for_circles_and_turns_with_time(d1: Decimal, d2: Decimal) -> None:
    """Identity: for circles the advance is exactly the difference of the radii."""
    one, other = ((m.area_ellipse(d, d), m.perimeter_ellipse(d, d)) for d in (d1, d2))
    found = m.gilman_advance(one[0], other[0], one[1], other[1])
    assert abs(found - (d1 - d2) / 2) < small
    assert found == -m.gilman_advance(other[0], one[0], other[1], one[1])


@given(areas, areas, st.integers(1, 400))
def test_rate_and_half_life_fit_together(a: Decimal, b: Decimal, time: int) -> None:
    assume(b < a)
    rate = m.log_rate(a, b, Decimal(time))
    assert rate > 0
    assert abs(m.log_rate(a, a / 2, m.half_life(rate)) - rate) < Decimal("1e-6")
    assert abs(m.log_rate(b, a, Decimal(time)) + rate) < small


@given(areas, areas, st.integers(0, 3), st.integers(0, 4))
def test_push_stays_in_its_bounds_and_grows_with_the_area(a: Decimal, b: Decimal, exudate: int, tissue: int) -> None:
    assert 0 <= m.push_total(a, exudate, tissue) <= 17
    low, high = sorted((a, b))
    assert m.push_area_score(low) <= m.push_area_score(high)


@given(st.lists(areas, min_size=3, max_size=12))
def test_the_line_agrees_with_scipy(found: list[Decimal]) -> None:
    """scipy.stats.linregress as the reference for r, slope and intercept."""
    from scipy.stats import linregress

    days = [Decimal(7 * n) for n in range(len(found))]
    made = m.project_linear(days, found)
    if len(set(found)) == 1:
        assert made.r is None and made.reason
        return
    reference = linregress([float(d) for d in days], [float(a) for a in found])
    assert made.r is not None and abs(float(made.r) - reference.rvalue) < 1e-6
    if made.days is not None:
        end = -reference.intercept / reference.slope
        assert math.isclose(float(made.days), end, rel_tol=1e-6)
        assert end > float(days[-1]) and reference.slope < 0 and abs(reference.rvalue) > 0.849999
    elif reference.slope < -1e-9 and abs(reference.rvalue) > 0.850001:
        assert -reference.intercept / reference.slope <= float(days[-1]) * (1 + 1e-9)


@given(sides, st.integers(1, 20), st.integers(3, 12), st.integers(2, 9))
def test_a_projection_on_a_true_line_is_first_over_rate_in_any_unit(a: Decimal, step: int, n: int, by: int) -> None:
    """J Wound Care 2006;15:299: initial size over initial rate."""
    rate = a / (n + step)
    days, line = [Decimal(i) for i in range(n)], [a - rate * i for i in range(n)]
    made, scaled = m.project_linear(days, line), m.project_linear(days, [v * by for v in line])
    assert made.days is not None and scaled.days is not None
    assert abs(made.days - a / rate) < Decimal("1e-6")
    assert abs(scaled.days - made.days) < Decimal("1e-6")


@pytest.mark.parametrize(
    ("areas_", "reason"),
    [
        ("5 4", "fewer than three measurements"),
        ("4 4 4", "no change in time or in area"),
        ("4 5 6", "the area does not get smaller"),
        ("9 3 8 4", "the areas do not lie near a line"),
        ("6 3 0", "the newest area is zero"),
        ("0.7 0.1 0.1", "the line meets zero before the newest measurement"),
    ],
)
def test_no_projection_without_its_conditions(areas_: str, reason: str) -> None:
    found = [Decimal(a) for a in areas_.split()]
    made = m.project_linear([Decimal(7 * n) for n in range(len(found))], found)
    assert (made.days, made.reason) == (None, reason)


@given(st.lists(st.sampled_from(sorted(LOCAL | DEEP | {"spreading"})), max_size=30))
def test_counts_of_signs_ignore_order_and_repetition(tags: list[str]) -> None:
    found = m.count_signs(tags)
    assert found == m.count_signs(reversed(tags)) == m.count_signs(tags * 2)
    assert found.local <= 5 and found.deep <= 7


def test_an_index_takes_the_higher_of_each_pair_whatever_the_side() -> None:
    """Convention named in the module: higher ankle pressure over higher arm pressure."""
    one = m.ankle_brachial_index(Decimal(90), Decimal(110), Decimal(120), Decimal(100))
    assert one == m.ankle_brachial_index(Decimal(110), Decimal(90), Decimal(100), Decimal(120))
    assert one == m.ankle_brachial_index(None, Decimal(110), Decimal(120), None)


NAN, ZERO, MINUS, ONE = Decimal("NaN"), Decimal(0), Decimal(-1), Decimal(1)
REFUSED: list[Callable[[], object]] = [
    *(lambda bad=bad: m.area_rectangle(bad, ONE) for bad in (ZERO, MINUS, NAN)),
    *(lambda bad=bad: m.volume_kundin(ONE, ONE, bad) for bad in (ZERO, MINUS, NAN)),
    *(lambda bad=bad: m.percent_area_change(bad, ONE) for bad in (ZERO, MINUS, NAN)),
    *(lambda bad=bad: m.log_rate(ONE, bad, ONE) for bad in (ZERO, MINUS, NAN)),
    lambda: m.percent_area_change(ONE, MINUS),
    lambda: m.gilman_advance(ONE, ONE, ZERO, ZERO),
    lambda: m.gilman_advance(MINUS, ONE, ONE, ONE),
    lambda: m.project_linear([ZERO, ONE], [ONE]),
    lambda: m.project_linear([ONE, ZERO], [ONE, ONE]),
    lambda: m.project_linear([ZERO], [MINUS]),
    lambda: m.push_area_score(MINUS),
    lambda: m.push_total(ONE, 4, 0),
    lambda: m.ankle_brachial_index(None, None, ONE, ONE),
    lambda: m.ankle_brachial_index(ONE, ONE, None, None),
    lambda: m.toe_brachial_index(ONE, ZERO, None),
    lambda: m.temperature_difference(ONE, "K", "Cel"),
    lambda: m.days_between("soon", "2026"),
    lambda: m.days_between("2026-03-02", "2026-03-01"),
    lambda: m.days_between("2026-04", "2026-03"),
    lambda: m.amount("4.10", "cm"),
    lambda: m.amount("4 cm2", "cm"),
    lambda: m.amount("4 inches", "cm"),
]


@pytest.mark.parametrize("work", REFUSED)
def test_what_has_no_answer_is_refused_and_no_value_is_reported(work: Callable[[], object]) -> None:
    with pytest.raises(MeasureError) as caught:
        work()
    assert "-1" not in str(caught.value) and "NaN" not in str(caught.value)


@pytest.mark.parametrize(("unit", "wanted"), [(None, "cm"), ("cm2", "cm"), ("furlong", "cm"), ("mL", "cm2")])
def test_units_are_checked_and_never_assumed(unit: str | None, wanted: str) -> None:
    with pytest.raises(MeasureError):
        m.to_unit(Decimal(1), unit, wanted)


@lru_cache(maxsize=1)
def registry() -> Any:
    import pint

    return pint.UnitRegistry(non_int_type=Decimal)


@given(st.decimals(min_value=0, max_value=9999, places=2), st.sampled_from(["mm", "m", "[in_i]"]))
def test_units_agree_with_pint(value: Decimal, unit: str) -> None:
    """pint as the reference; the inch is 2.54 cm by the international agreement of 1959."""
    name = {"mm": "millimeter", "m": "meter", "[in_i]": "inch"}[unit]
    exact = registry().Quantity(value, name).to("centimeter").magnitude
    assert abs(m.to_unit(value, unit, "cm") - exact) < small


@pytest.mark.parametrize(
    ("start", "end", "least", "most"),
    [
        ("2026-03-02", "2026-03-02", 0, 0),
        ("2024-02-28", "2024-03-01", 2, 2),
        ("2026-03-02T23:30:00-05:00", "2026-03-03T00:10:00-05:00", 1, 1),
        ("2025", "2026-01-01", 1, 365),
        ("2026-03", "2026-03", 0, 30),
    ],
)
def test_days_between_dates_as_written(start: str, end: str, least: int, most: int) -> None:
    """Arithmetic of the calendar; a partial date gives bounds."""
    assert m.days_between(start, end) == (least, most)


def test_every_public_function_says_its_inputs_and_has_an_example() -> None:
    for name in m.__all__:
        found = getattr(m, name)
        if callable(found) and not isinstance(found, type):
            doc = found.__doc__ or ""
            assert "Examples\n" in doc and "Parameters\n" in doc, name
