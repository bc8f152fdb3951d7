"""What a written number or a plan says for certain: below or above a limit, in how many days. No rule stands here.

A comparator counts ("<30 mmHg" is below 30), a range or an estimate in words says nothing for certain.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from woundfhir.chart.asking import Asked
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.record import dates
from woundfhir.record.rhythm import DAYS, rhythm
from woundfhir.record.units import MeasureError, to_unit


def below(item: Asked, path: str, unit: str, limit: Decimal) -> bool:
    """Whether a measure is certainly below a limit."""
    found = item.amount(path, unit)
    return found is not None and found.below(limit)


def above(item: Asked, path: str, unit: str, limit: Decimal) -> bool:
    """Whether a measure is certainly above a limit."""
    found = item.amount(path, unit)
    return found is not None and found.above(limit)


def exact(item: Asked, *paths: str) -> bool:
    """Whether none of the numbers stands behind a comparator."""
    found = (item.quantity(path) for path in paths)
    return not any(one is not None and one.comparator for one in found)


class Interval(NamedTuple):
    """From how many to how many days a planned interval can last, and the weekdays that it names (Monday is 0)."""

    least: Decimal
    most: Decimal
    weekdays: frozenset[int] = frozenset()


def planned_interval(entry: EntryView) -> Interval | None:
    """Return the interval between two changes as planned in a note; None where it is not written or not readable."""
    text = entry.answer("plan.change_every")
    if not isinstance(text, str):
        return None
    if entry.quantity("plan.change_every") is not None:
        days = entry.measure("plan.change_every", "d")
        return Interval(days, days) if days is not None and days > 0 else None
    spoken = rhythm(text)
    if spoken is None:
        return None
    try:
        unit = to_unit(Decimal(1), spoken.unit, "d")
    except MeasureError:
        return None
    if spoken.days:
        return _named_days(frozenset(DAYS.index(day) for day in spoken.days))
    whole = spoken.period * unit
    if spoken.longest is not None:
        return Interval(whole, spoken.longest * unit)
    if spoken.times == 1 or whole <= 1:
        return Interval(whole / spoken.times, whole / spoken.times)
    # Three times a week: two or three days apart.
    least = Decimal(int(whole) // spoken.times)
    return Interval(least, whole - (spoken.times - 1) * least)


def _named_days(days: frozenset[int]) -> Interval:
    order = sorted(days)
    gaps = [(later - earlier - 1) % 7 + 1 for earlier, later in zip(order, [*order[1:], order[0]], strict=True)]
    return Interval(Decimal(min(gaps)), Decimal(max(gaps)), days)


def tolerance(interval: Interval, policy: Policy) -> int:
    """Return by how many days a change may be early or late without a question: never half of the interval or more."""
    return min(policy.days("plan.grace_days"), int(interval.most) // 2)


def planned_days(entry: EntryView) -> int | None:
    """Return the days from the visit to the next change as planned; None where one of the days is not known."""
    due = dates.day(entry.answer("plan.next_change"))
    return None if due is None or entry.day is None else (due - entry.day).days


def age_below(entry: EntryView, years: int) -> bool:
    """Whether the client is certainly younger than some years on the day of the visit."""
    born, day = entry.patient.given("born"), entry.day
    if not isinstance(born, str) or day is None or not born[:4].isdigit():
        return False
    whole = dates.day(born)
    if whole is not None:
        age = day.year - whole.year - ((day.month, day.day) < (whole.month, whole.day))
    elif len(born) == 7 and born[5:].isdigit():
        age = day.year - int(born[:4]) - (day.month < int(born[5:]))
    else:
        age = day.year - int(born[:4])
    return 0 <= age < years
