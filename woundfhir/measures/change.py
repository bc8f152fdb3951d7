"""Change over time: percentage, linear advance of the edge, exponential rate, projection under its conditions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from woundfhir.measures.units import MeasureError, positive


def percent_area_change(first: Decimal, now: Decimal) -> Decimal:
    """Return the change of area in per cent of the first; minus is smaller.

    Parameters
    ----------
    first
        Area at the start, above zero.
    now
        Area now, zero or above, same unit and same method of measurement.

    Returns
    -------
    Decimal
        From -100 (closed) upwards.

    Raises
    ------
    MeasureError
        When the first area is zero (no per cent of nothing) or one is below zero.

    Examples
    --------
    >>> round(percent_area_change(Decimal("5.1"), Decimal("4.7")), 2)
    Decimal('-7.84')
    """
    positive(first, "first area")
    if now < 0:
        raise MeasureError("an area of zero or above")
    return (now - first) / first * 100


def percent_area_reduction(first: Decimal, now: Decimal) -> Decimal:
    """Return the reduction of area in per cent of the first (PAR); minus is larger. The mirror of the change.

    Examples
    --------
    >>> round(percent_area_reduction(Decimal("4.3"), Decimal("4.0")), 4)
    Decimal('6.9767')
    """
    return -percent_area_change(first, now)


def gilman_advance(area_first: Decimal, area_now: Decimal, perimeter_first: Decimal, perimeter_now: Decimal) -> Decimal:
    """Return the linear advance of the wound edge: difference of areas over the mean perimeter.

    Gilman TH. Parameter for measurement of wound closure. Wounds 1990;2:95 (the formula from memory; described
    in Hill 2004 and Edsberg 2011). For circles it is exactly the difference of the radii.

    Parameters
    ----------
    area_first, area_now
        In cm2, zero or above.
    perimeter_first, perimeter_now
        In cm; the mean must be above zero.

    Returns
    -------
    Decimal
        In cm, minus when the wound has grown.

    Raises
    ------
    MeasureError
        When an area or perimeter is below zero or both perimeters are zero.

    Examples
    --------
    >>> gilman_advance(Decimal(16), Decimal(9), Decimal(16), Decimal(12))
    Decimal('0.5')
    """
    if min(area_first, area_now, perimeter_first, perimeter_now) < 0:
        raise MeasureError("areas and perimeters of zero or above")
    mean = positive((perimeter_first + perimeter_now) / 2, "mean perimeter")
    return (area_first - area_now) / mean


def log_rate(first: Decimal, now: Decimal, time: Decimal) -> Decimal:
    """Return the exponential rate of healing: ln(first / now) over time.

    Letter, Wounds, July 2003; used as log healing rate by Gelfand, Hoffstad and Margolis,
    J Invest Dermatol 2002;119:1420.

    Parameters
    ----------
    first, now
        Areas above zero, same unit and method.
    time
        Above zero; the rate is per its unit.

    Raises
    ------
    MeasureError
        When one of them is zero or below: a closed wound has no logarithm.

    Examples
    --------
    >>> round(log_rate(Decimal(10), Decimal(5), Decimal(4)), 6)
    Decimal('0.173287')
    """
    return (positive(first, "first area") / positive(now, "area now")).ln() / positive(time, "time")


def half_life(rate: Decimal) -> Decimal:
    """Return the time in which the area halves at an exponential rate, in the rate's unit of time.

    Raises
    ------
    MeasureError
        When the rate is zero or below: the wound does not get smaller.

    Examples
    --------
    >>> round(half_life(log_rate(Decimal(12), Decimal(3), Decimal(4))), 4)
    Decimal('2.0000')
    """
    return Decimal(2).ln() / positive(rate, "rate")


@dataclass(frozen=True, slots=True)
class Projection:
    """An arithmetical projection of closure, or why there is none.

    Attributes
    ----------
    days
        Days from the first point to an area of zero on the fitted line, or None.
    r
        Correlation of area and time, -1 to 1, or None where it cannot be had.
    reason
        Why there is no projection; empty where there is one.
    """

    days: Decimal | None
    r: Decimal | None
    reason: str = ""


def project_linear(days: Sequence[Decimal], areas: Sequence[Decimal], least_r: Decimal = Decimal("0.85")) -> Projection:
    """Return the arithmetical projection of closure on a straight line through the areas.

    Only under the conditions of J Wound Care 2006;15:299-303: at least three points, areas going down, and a
    correlation beyond ``least_r`` (0.85 there). It is arithmetic on past sizes, not a forecast of healing.

    Parameters
    ----------
    days
        Days since the first measurement, rising, at least two different.
    areas
        Areas in cm2 by one method, zero or above.
    least_r
        The least strength of the correlation.

    Returns
    -------
    Projection

    Examples
    --------
    >>> d = [Decimal(n) for n in (0, 7, 14, 21)]
    >>> round(project_linear(d, [Decimal(12), Decimal("10.5"), Decimal(9), Decimal("7.5")]).days, 1)
    Decimal('56.0')
    >>> project_linear(d[:2], [Decimal(2), Decimal(1)]).reason
    'fewer than three measurements'
    """
    if len(days) != len(areas):
        raise MeasureError("as many days as areas")
    if len(days) < 3:
        return Projection(None, None, "fewer than three measurements")
    if any(area < 0 for area in areas):
        return Projection(None, None, "an area below zero")
    slope, intercept, r = _line(days, areas)
    if slope is None or r is None:
        return Projection(None, None, "no change in time or in area")
    if slope >= 0:
        return Projection(None, r, "the area does not get smaller")
    if abs(r) <= least_r:
        return Projection(None, r, "the areas do not lie near a line")
    return Projection(-intercept / slope, r)


def _line(x: Sequence[Decimal], y: Sequence[Decimal]) -> tuple[Decimal | None, Decimal, Decimal | None]:
    """Least squares: slope, intercept and Pearson's r."""
    n = Decimal(len(x))
    mean_x, mean_y = sum(x, Decimal(0)) / n, sum(y, Decimal(0)) / n
    sxx = sum(((a - mean_x) ** 2 for a in x), Decimal(0))
    syy = sum(((b - mean_y) ** 2 for b in y), Decimal(0))
    sxy = sum(((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)), Decimal(0))
    if sxx == 0 or syy == 0:
        return None, mean_y, None
    slope = sxy / sxx
    return slope, mean_y - slope * mean_x, sxy / (sxx * syy).sqrt()
