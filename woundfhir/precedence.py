"""Which of two times comes first, where each is only as precise as it is written."""

from __future__ import annotations

from datetime import datetime


def precedes(one: str, first: datetime | None, other: str, second: datetime | None) -> bool | None:
    """Whether one time certainly lies before another.

    Parameters
    ----------
    one, other
        The times as written: a year, a month, a day (``YYYY-MM-DD``) or a day with a clock time.
    first, second
        The first moment of each, in the offset written or in none; None for words that are no time.

    Returns
    -------
    bool or None
        None where it cannot be known: words, partial dates that overlap, one day and a clock time without offset.

    Examples
    --------
    >>> precedes("2026-03", datetime(2026, 3, 1), "2026-03-15", datetime(2026, 3, 15)) is None
    True
    >>> precedes("2025", datetime(2025, 1, 1), "2026-03-15", datetime(2026, 3, 15))
    True
    """
    if first is None or second is None:
        return None
    if first.tzinfo and second.tzinfo:
        return first < second
    length = min(len(one), len(other), 10)
    return None if one[:length] == other[:length] else one[:length] < other[:length]
