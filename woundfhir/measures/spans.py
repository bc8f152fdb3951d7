"""Change over so many weeks: the measurement nearest to a day, and whether a published cut-off was reached."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from woundfhir.measures.courses import Threshold
from woundfhir.measures.points import Point, compared

#: A measurement this many days before or after a date counts for that date: visits are weekly. Common practice,
#: no source.
NEAR = 7


def between(first: Point, now: Point) -> Decimal | None:
    """Return the change of area from one measurement to a later one in per cent; None where it cannot be computed."""
    return compared(first, now)[0] if first.certain and now.certain else None


def _nearest(points: Sequence[Point], start: date, target: int) -> Point | None:
    """The point nearest to so many days after a day, the later of two; None where none is near."""
    best, least = None, NEAR
    for one in points:
        off = abs((one.day - start).days - target)
        if off <= least:
            best, least = one, off
    return best


def after(stretch: Sequence[Point], weeks: int) -> tuple[Decimal | None, Point | None]:
    """Return the change from the first point to the measurement nearest to so many weeks later, and it."""
    near = _nearest(stretch[1:], stretch[0].day, weeks * 7)
    return (None, None) if near is None else (between(stretch[0], near), near)


def last_weeks(stretch: Sequence[Point], weeks: int) -> Decimal | None:
    """Return the change from the measurement nearest to so many weeks before the newest one to that one."""
    near = _nearest(stretch[:-1], stretch[-1].day, -weeks * 7)
    return None if near is None else between(near, stretch[-1])


def reached(stretch: Sequence[Point], threshold: Threshold) -> bool | None:
    """Return whether the wound was smaller by so much at that time; None where no measurement then can be compared.

    A measurement before that time can say that it was reached; only one at or after it that it was not.
    """
    due = threshold.weeks * 7
    percent, near = after(stretch, threshold.weeks)
    if percent is None or near is None:
        return None
    if (near.day - stretch[0].day).days < due and -percent < threshold.percent:
        later = next((p for p in stretch if due <= (p.day - stretch[0].day).days <= due + NEAR), None)
        percent = None if later is None else between(stretch[0], later)
    return None if percent is None else -percent >= threshold.percent
