"""Episodes of a wound: what was charted after a closure, once the wound is open again, is a new one.

A wound closes with a note that calls it resolved (``assessment.healing_trend``), with one that measures nothing (0 by
0 cm) where an earlier one describes an open wound, and on the day under the wound's ``closed``. It is open again with
the first later note that says so: a size above zero, a trend that is not "resolved", undermining, a tunnel, exudate or
packing. A note between that says neither (somebody looked, a pad was left for comfort) belongs to what closed.
Nothing is compared across a closure.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

#: Sizes; one above zero is that of an open wound.
_SIZES = ("length", "width", "area", "depth")
#: Answers that only an open wound has.
_OPEN = ("assessment.undermining", "assessment.tunnels", "assessment.exudate_amount", "care.packing")


def says_resolved(entry: Any) -> bool:
    """Whether an entry calls the wound resolved."""
    return bool(entry.word("assessment.healing_trend") == "resolved")


def measures_nothing(entry: Any) -> bool:
    """Whether the size of an entry is zero."""
    number = entry.number
    length, width = number("assessment.length"), number("assessment.width")
    return (length == 0 and width == 0) or (length is width is None and number("assessment.area") == 0)


def says_open(entry: Any) -> bool:
    """Whether an entry describes an open wound."""
    if says_resolved(entry) or measures_nothing(entry):
        return False
    sizes = (entry.number(f"assessment.{key}") for key in _SIZES)
    if any(size is not None and size > 0 for size in sizes) or entry.has("assessment.healing_trend"):
        return True
    return any(entry.has(path) for path in _OPEN)


def episodes(wound: Any, entries: Sequence[Any] | None = None) -> list[list[Any]]:
    """Return a wound's entries that count, oldest first, by episode.

    Parameters
    ----------
    wound
        A ``WoundView``; ask it (``WoundView.episodes``), it keeps the answer.
    entries
        Other entries of the wound in time order, where a draft is to be placed among those that count.

    Examples
    --------
    >>> from woundfhir.chart import open_record
    >>> from woundfhir.record import History
    >>> def seen(at, **assessment): return {"id": at, "at": at, "wounds": [{"wound": "W1", "assessment": assessment}]}
    >>> visits = [seen("2026-01-05", length="2.0 cm"), seen("2026-02-02", healing_trend="resolved"),
    ...     seen("2026-02-09"), seen("2026-04-01", length="3.0 cm")]
    >>> raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": visits}
    >>> [[entry.visit.id for entry in one] for one in open_record(History.of(raw)).wound("W1").episodes]
    [['2026-01-05', '2026-02-02', '2026-02-09'], ['2026-04-01']]
    """
    out: list[list[Any]] = []
    day = wound.record.clock.when(wound.data.get("closed"))
    closed, was_open, ahead = False, False, True
    for entry in wound.entries if entries is None else entries:
        passed = ahead and day.before(entry.visit.when)
        if not out or ((closed or passed) and says_open(entry)):
            out.append([])
            closed, was_open, ahead = False, False, ahead and not passed
        out[-1].append(entry)
        was_open = was_open or says_open(entry)
        closed = closed or says_resolved(entry) or (was_open and measures_nothing(entry))
    return out
