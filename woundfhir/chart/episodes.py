"""Episodes of a wound: what was charted after a closure, once the wound is open again, is a new one.

A wound closes with a note that calls it resolved (``assessment.healing_trend``), with one that measures nothing (0 by
0 cm) where an earlier one describes an open wound, and on the day under the wound's ``closed``. It is open again with
the first later note that says so: a size above zero, a trend that is not "resolved", undermining, a tunnel, exudate or
packing. A note between that says neither (somebody looked, a pad was left for comfort) belongs to what closed.
Nothing is compared across a closure.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any, NamedTuple

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
    sizes = (entry.amount(f"assessment.{key}") for key in _SIZES)
    if any(size is not None and size.above(Decimal(0)) for size in sizes) or entry.has("assessment.healing_trend"):
        return True
    return any(entry.has(path) for path in _OPEN)


class Standing(NamedTuple):
    """How a wound stands after some of its entries.

    Attributes
    ----------
    start
        The place of the first entry of the episode.
    closed, was_open
        Whether an entry of the episode closed the wound, and whether one described an open wound.
    ahead
        Whether the day under the wound's ``closed`` still lies ahead.
    """

    start: int = 0
    closed: bool = False
    was_open: bool = False
    ahead: bool = True


def standings(wound: Any) -> list[Standing]:
    """Return how a wound stands before the first of its entries that count, and after each of them.

    Parameters
    ----------
    wound
        A ``WoundView``; ask it (``WoundView.standings``), it keeps the answer.

    Examples
    --------
    >>> from woundfhir.chart import open_record
    >>> from woundfhir.record import History
    >>> def seen(at, **assessment): return {"id": at, "at": at, "wounds": [{"wound": "W1", "assessment": assessment}]}
    >>> visits = [seen("2026-01-05", length="2.0 cm"), seen("2026-02-02", healing_trend="resolved"),
    ...     seen("2026-02-09"), seen("2026-04-01", length="3.0 cm")]
    >>> raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": visits}
    >>> wound = open_record(History.of(raw)).wound("W1")
    >>> [after.start for after in standings(wound)[1:]]
    [0, 0, 0, 3]
    >>> [[entry.visit.id for entry in one] for one in wound.episodes]
    [['2026-01-05', '2026-02-02', '2026-02-09'], ['2026-04-01']]
    """
    out = list(wound.stood) or [Standing()]
    for entry in wound.entries[len(out) - 1 :]:
        out.append(after(out[-1], entry))
    return out


def after(before: Standing, entry: Any) -> Standing:
    """Return how a wound stands after one more entry, be it a draft, that follows ``entry.nth`` entries that count."""
    start, closed, was_open, ahead = before
    day = entry.record.clock.when(entry.wound.data.get("closed"))
    passed = ahead and day.before(entry.visit.when)
    if entry.nth == 0 or ((closed or passed) and says_open(entry)):
        start, closed, was_open, ahead = entry.nth, False, False, ahead and not passed
    was_open = was_open or says_open(entry)
    return Standing(start, closed or says_resolved(entry) or (was_open and measures_nothing(entry)), was_open, ahead)
