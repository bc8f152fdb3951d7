"""Change over time: percentage, linear advance of the edge, exponential rate."""

from __future__ import annotations

from decimal import Decimal

from woundfhir.record.units import not_below_zero, positive


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
    return (not_below_zero(now, "an area") - first) / first * 100


def percent_area_reduction(first: Decimal, now: Decimal) -> Decimal:
    """Return the reduction of area in per cent of the first (PAR); minus is larger. The mirror of the change.

    Parameters
    ----------
    first, now
        As for ``percent_area_change``.

    Returns
    -------
    Decimal
        At most 100 (closed).

    Raises
    ------
    MeasureError
        As for ``percent_area_change``.

    Examples
    --------
    >>> round(percent_area_reduction(Decimal("4.3"), Decimal("4.0")), 4)
    Decimal('6.9767')
    """
    return -percent_area_change(first, now)


def gilman_advance(area_first: Decimal, area_now: Decimal, perimeter_first: Decimal, perimeter_now: Decimal) -> Decimal:
    """Return the linear advance of the wound edge: difference of areas over the mean perimeter.

    Gilman TH 1990, Parameter for measurement of wound closure (the formula from memory; described in the
    abstracts of Hill 2004 and Edsberg 2011). For circles it is exactly the difference of the radii, for squares
    half the difference of the sides. Hill 2004 found it a poor predictor of closure.

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
    for found in (area_first, area_now, perimeter_first, perimeter_now):
        not_below_zero(found, "areas and perimeters")
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

    Parameters
    ----------
    rate
        From ``log_rate``, above zero.

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
