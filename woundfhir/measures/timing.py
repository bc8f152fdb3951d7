"""Days between dates as written: a partial date gives bounds, never a guessed day."""

from __future__ import annotations

from calendar import monthrange
from datetime import date
from typing import NamedTuple

from woundfhir.record import dates
from woundfhir.record.units import MeasureError


class Days(NamedTuple):
    """A number of days between bounds; the two are equal where both dates are whole.

    Examples
    --------
    >>> days_open("2026-03", "2026-04-10")
    Days(least=10, most=40)
    """

    least: int
    most: int


def bounds(text: str) -> tuple[date, date]:
    """Return the first and the last day that a date as written can mean; the day of a clock time is the day written.

    Raises
    ------
    MeasureError
        When it is no date.

    Examples
    --------
    >>> [day.isoformat() for day in bounds("2026-02")]
    ['2026-02-01', '2026-02-28']
    """
    whole = dates.day(text)
    if whole is not None:
        return whole, whole
    start = dates.moment(text)
    if start is None:
        raise MeasureError("a date such as 2026, 2026-03 or 2026-03-02")
    if len(text) == 4:
        return start.date(), date(start.year, 12, 31)
    return start.date(), date(start.year, start.month, monthrange(start.year, start.month)[1])


def days_between(start: str, end: str) -> Days:
    """Return the days from one date to another, counting nights: the same day is 0.

    Parameters
    ----------
    start, end
        Dates as the record writes them: a year, a month, a day, or a day with a clock time.

    Returns
    -------
    Days
        Zero or above.

    Raises
    ------
    MeasureError
        When one is no date, or the end lies before the start.

    Examples
    --------
    >>> days_between("2026-03-02", "2026-03-16T10:05:00-04:00")
    Days(least=14, most=14)
    >>> days_between("2026-01", "2026-03-02")
    Days(least=30, most=60)
    """
    (first, first_last), (last, last_last) = bounds(start), bounds(end)
    most = (last_last - first).days
    if most < 0:
        raise MeasureError("an end that does not lie before the start")
    return Days(max((last - first_last).days, 0), most)


def days_open(onset: str, now: str, closed: str | None = None) -> Days:
    """Return how many days a wound has been open, or was open where it has closed by ``now``.

    Parameters
    ----------
    onset
        When it began, as written.
    now
        The day to count to. There is no clock here: the caller gives it.
    closed
        When it closed, if it did.

    Raises
    ------
    MeasureError
        When one is no date, or the count would run backwards.

    Examples
    --------
    >>> days_open("2026-02-20", "2026-03-02"), days_open("2026-02-20", "2026-06-01", closed="2026-03-01")
    (Days(least=10, most=10), Days(least=9, most=9))
    """
    if closed is None or dates.earlier(now, closed):
        return days_between(onset, now)
    return days_between(onset, closed)
