"""The arithmetical projection of closure: a straight line through past areas, only under its published conditions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from woundfhir.measures.texts import say
from woundfhir.record.units import MeasureError

#: What every projection is to be called. It is arithmetic on past sizes and no forecast of healing.
WORDS = "arithmetical projection"
#: J Wound Care 2006;15(7):299-303: 17 of 23 ulcers lay near a line, mean r 0.95; projected where it is beyond 0.85.
LEAST_R = Decimal("0.85")
LEAST_POINTS = 3


@dataclass(frozen=True, slots=True)
class Projection:
    """An arithmetical projection of closure, or why there is none.

    Attributes
    ----------
    days
        Days from the first point to an area of zero on the fitted line, or None.
    r
        Correlation of area and time, -1 to 1, or None where it cannot be computed.
    reason
        Why there is no projection; empty where there is one.

    Examples
    --------
    >>> project_linear([Decimal(0), Decimal(7)], [Decimal(8), Decimal(4)])
    Projection(days=None, r=None, reason='fewer than three measurements')
    """

    days: Decimal | None
    r: Decimal | None
    reason: str = ""


def project_linear(
    days: Sequence[Decimal], areas: Sequence[Decimal], least_r: Decimal = LEAST_R, least_points: int = LEAST_POINTS
) -> Projection:
    """Return the arithmetical projection of closure on a straight line through the areas.

    Only under the conditions of J Wound Care 2006;15:299-303: at least three points, areas going down, and a
    correlation beyond ``least_r`` (0.85 there). It is arithmetic on past sizes, not a forecast of healing: where
    infection or blood supply are not dealt with it means nothing. The line is fitted by least squares; on areas
    that lie on a line this equals the first area over the rate, as published. The delayed exponential (Cukjati
    2001, from five weekly areas on) is not offered: how it was fitted is not known here.

    Parameters
    ----------
    days
        Days since the first measurement, not falling.
    areas
        Areas in one unit by one method, zero or above.
    least_r
        The least strength of the correlation.
    least_points
        The least number of measurements, at least 3.

    Returns
    -------
    Projection

    Raises
    ------
    MeasureError
        When there are not as many days as areas, days run backwards, or an area is below zero.

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
    if any(later < day for day, later in pairwise(days)):
        raise MeasureError("days in the order of time")
    if any(area < 0 for area in areas):
        raise MeasureError("areas of zero or above")
    if len(days) < max(least_points, LEAST_POINTS):
        few = say("projection.three") if least_points <= LEAST_POINTS else str(least_points)
        return Projection(None, None, say("projection.few", number=few))
    slope, intercept, r = _line(days, areas)
    if slope is None or r is None:
        return Projection(None, None, say("projection.no_change"))
    if areas[-1] == 0:
        return Projection(None, r, say("projection.zero"))
    if slope >= 0:
        return Projection(None, r, say("projection.not_smaller"))
    if abs(r) <= least_r:
        return Projection(None, r, say("projection.no_line"))
    end = -intercept / slope
    if end <= days[-1]:
        return Projection(None, r, say("projection.past"))
    return Projection(end, r)


def _line(x: Sequence[Decimal], y: Sequence[Decimal]) -> tuple[Decimal | None, Decimal, Decimal | None]:
    """Least squares: slope, intercept and Pearson's r."""
    n = Decimal(len(x))
    mean_x, mean_y = sum(x, Decimal(0)) / n, sum(y, Decimal(0)) / n
    sxx = sum(((a - mean_x) ** 2 for a in x), Decimal(0))
    syy = sum(((b - mean_y) ** 2 for b in y), Decimal(0))
    sxy = sum(((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)), Decimal(0))
    if len(set(x)) == 1 or len(set(y)) == 1:
        return None, mean_y, None
    slope = sxy / sxx
    return slope, mean_y - slope * mean_x, sxy / (sxx * syy).sqrt()
