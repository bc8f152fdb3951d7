"""Axes: round steps for areas, calendar steps for dates."""

from __future__ import annotations

import math
from datetime import date, timedelta

#: (days of a step, months of a step): days from the first date, months from the first of a month.
_STEPS = (
    (1, 0),
    (2, 0),
    (7, 0),
    (14, 0),
    (28, 0),
    (0, 1),
    (0, 2),
    (0, 3),
    (0, 6),
    (0, 12),
    (0, 24),
    (0, 60),
    (0, 120),
    (0, 240),
    (0, 600),
    (0, 1200),
)
_MONTH = 30.44


def round_step(highest: float, count: int = 5) -> float:
    """Return a step of 1, 2, 2.5 or 5 times a power of ten that needs at most ``count`` steps to the highest value.

    Examples
    --------
    >>> round_step(21.7), round_step(0.9), round_step(0)
    (5.0, 0.2, 0.2)
    """
    raw = (highest if highest > 0 else 1.0) / count
    size = 10.0 ** math.floor(math.log10(raw))
    return next(size * n for n in (1, 2, 2.5, 5, 10) if size * n >= raw * (1 - 1e-9))


def date_ticks(first: date, last: date, most: int) -> list[tuple[date, str]]:
    """Return dates at calendar steps with their labels, at most so many.

    Days and weeks are counted from the first date, so that weekly visits fall on them; longer steps stand on the
    first of a month and are labelled with the month or the year alone.

    Examples
    --------
    >>> date_ticks(date(2026, 3, 2), date(2026, 3, 20), 5)[1]
    (datetime.date(2026, 3, 9), '2026-03-09')
    >>> [label for _, label in date_ticks(date(2021, 1, 1), date(2025, 12, 5), 6)]
    ['2021', '2022', '2023', '2024', '2025']
    """
    span = (last - first).days
    for days, months in _STEPS:
        if span / (days or months * _MONTH) + 1 <= most:
            break
    if days:
        return [(day, day.isoformat()) for n in range(span // days + 1) if (day := first + timedelta(days=n * days))]
    return _months(first, last, months)


def _months(first: date, last: date, step: int) -> list[tuple[date, str]]:
    start = first.year * 12 + first.month - 1 + (first.day > 1)
    start += -start % step
    found = []
    for count in range(start, last.year * 12 + last.month, step):
        if count // 12 > date.max.year:
            break
        day = date(count // 12, count % 12 + 1, 1)
        if first <= day <= last:
            found.append((day, f"{day.year:04d}" if step % 12 == 0 else f"{day.year:04d}-{day.month:02d}"))
    return found
