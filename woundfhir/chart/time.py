"""Order in time: what a date as written can mean, which of two notes is certainly the earlier, where each stands.

Four kinds of time stand in one record, and each is placed on one line:

- **an instant** (clock time with offset) is one point of the line;
- **a local time** (clock time without offset) is placed by the record's zone. An hour that the zone has twice or
  not at all (a night on which the clocks change) can mean either of two instants. Without a zone the local times of
  a record are in order among themselves, by the clock on the wall; against an instant they can mean any offset that
  the notes that count write (other than zero, which machines write for everything), an hour more or less where that
  is one offset alone, since clocks change twice a year; where none is written, any offset on earth (UTC-12 to
  UTC+14);
- **a date alone** is the whole day, and a year or a month the whole of it;
- **no time**: the time of writing stands in for it, as the latest that the visit can have been; a note without
  either can have been at any time.

*Certainly earlier* means: whatever the two texts mean, one lies before the other. Everything that is computed from
an order (a change in per cent, a rate) asks for that (``When.before``, ``certain``); a whole day is never certainly
before or after an instant of that day.

*The order* in which notes stand has to name one note as the newest even so: each note stands at the earliest
instant that its time can mean, so that what is vague never takes the place of what is precise. A date alone stands
before the clock times of its day, ``2026-03`` before all of March, a note without a time at the time of writing, and
one without either before all others. Notes that stand at the same instant are in order of writing (``written``), then
in the order of the record.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time
from functools import lru_cache
from typing import NamedTuple

from woundfhir.record import dates

_SECOND = 1_000_000
_HOUR = 3600 * _SECOND
_DAY = 24 * _HOUR
#: Before and after everything that a date can say.
_NEVER, _EVER = -(10**20), 10**20
#: Offsets on earth: UTC-12 to UTC+14 (IANA time zone database).
_WEST, _EAST = -12 * _HOUR, 14 * _HOUR


class When(NamedTuple):
    """What the time of a note can mean, in microseconds on one line (UTC).

    Attributes
    ----------
    order
        Where the note stands in the order.
    first, last
        The earliest and the latest instant that its time can mean.
    wall
        The same by the clock on the wall, where neither an offset nor a zone is written; else None.
    """

    order: int
    first: int
    last: int
    wall: tuple[int, int] | None = None

    def before(self, other: When) -> bool:
        """Whether this lies before the other, whatever the two mean.

        Examples
        --------
        >>> clock = Clock("America/Toronto")
        >>> day, night = clock.when("2026-03-02"), clock.when("2026-03-03T00:30:00Z")  # half past seven, 2 March
        >>> day.before(night), night.before(day), night.before(clock.when("2026-03-03"))
        (False, False, True)
        """
        if self.wall is not None and other.wall is not None:
            return self.wall[1] < other.wall[0]
        return self.last < other.first


#: A note without a time and without a time of writing.
NO_TIME = When(_NEVER, _NEVER, _EVER)


class Clock:
    """Places the times of one record.

    Parameters
    ----------
    zone
        The record's ``zone``: an IANA name or a fixed offset; None, or a name that is none, where it has none.
    times
        All times of the record: without a zone, their offsets say what a local time can mean.

    Examples
    --------
    >>> clock = Clock(None, ["2026-03-02T23:30:00-05:00", "2026-03-03T00:30:00Z", "2026-03-02"])
    >>> late, early, day = (clock.when(text) for text in ("2026-03-02T23:30-05:00", "2026-03-03T00:30Z", "2026-03-02"))
    >>> early.before(late), early.before(day), day.before(early), day.order < early.order
    (True, False, False, True)
    """

    __slots__ = ("_east", "_offsets", "_west", "_zone")

    def __init__(self, zone: str | None = None, times: Iterable[object] = ()) -> None:
        self._zone = zone if dates.named_zone(zone) is not None else None
        offsets = set() if self._zone else {found for text in times if (found := _offset(text))}
        self._offsets = offsets
        change = _HOUR if len(offsets) == 1 else 0
        self._west = min(offsets) - change if offsets else _WEST
        self._east = max(offsets) + change if offsets else _EAST

    def knows(self, text: object) -> bool:
        """Whether one more time in the record leaves what every other can mean as it is."""
        return self._zone is not None or _offset(text) in (0, *self._offsets)

    def when(self, at: object, written: object = None) -> When:
        """Return when a note was: by ``at``, else by the time of writing; ``NO_TIME`` where neither is a date."""
        found = self._place(at)
        if found is not None:
            return found
        stand_in = self._place(written)
        return NO_TIME if stand_in is None else When(stand_in.order, _NEVER, stand_in.last)

    def _place(self, text: object) -> When | None:
        return _placed(text, self._zone, self._west, self._east) if isinstance(text, str) else None


def certain(times: Sequence[When]) -> list[bool]:
    """Return for each of some times in order whether all before it are certainly earlier, all after it later.

    Examples
    --------
    >>> clock = Clock("America/Toronto")
    >>> certain([clock.when(text) for text in ("2026-03-01", "2026-03-02", "2026-03-02T10:00:00", "2026-03-09")])
    [True, False, False, True]
    """
    back = [When(0, -one.last, -one.first, one.wall and (-one.wall[1], -one.wall[0])) for one in reversed(times)]
    after = _after_all(back)
    return [one and other for one, other in zip(_after_all(times), reversed(after), strict=True)]


def _after_all(times: Sequence[When]) -> list[bool]:
    """Whether each lies after all that stand before it; the latest end of each kind is carried along."""
    out = []
    fixed = any_kind = wall = _NEVER - 1
    for one in times:
        if one.wall is None:
            out.append(any_kind < one.first)
            fixed = max(fixed, one.last)
        else:
            out.append(fixed < one.first and wall < one.wall[0])
            wall = max(wall, one.wall[1])
        any_kind = max(any_kind, one.last)
    return out


@lru_cache(maxsize=65536)
def _placed(text: str, zone: str | None, west: int, east: int) -> When | None:
    start = dates.moment(text)
    if start is None:
        return None
    if start.tzinfo is not None:
        instant = _wall(start) - _micro(start)
        return When(instant, instant, instant)
    first, last = _wall(start), _wall(start) if len(text) > 10 else _end(start.date(), len(text))
    if zone is None:
        return When(first - east, first - east, last - west, (first, last))
    first, last = min(_at(first, zone)), max(_at(last, zone))
    return When(first, first, last)


def _end(day: date, length: int) -> int:
    """The last microsecond of the day, month or year that a date of this length names."""
    month = 12 if length == 4 else day.month
    last = day if length == 10 else date(day.year, month, monthrange(day.year, month)[1])
    return last.toordinal() * _DAY + _DAY - 1


def _at(wall: int, zone: str) -> list[int]:
    """The instants that a local time can mean in a zone: two where the clocks change, else twice the same."""
    days, rest = divmod(wall, _DAY)
    seconds, micro = divmod(rest, _SECOND)
    clock = time(seconds // 3600, seconds // 60 % 60, seconds % 60, micro, dates.named_zone(zone))
    local = datetime.combine(date.fromordinal(days), clock)
    return [wall - _micro(local.replace(fold=fold)) for fold in (0, 1)]


def _wall(local: datetime) -> int:
    """Microseconds of a local time, its offset left out of account."""
    clock = local.hour * 3600 + local.minute * 60 + local.second
    return local.toordinal() * _DAY + clock * _SECOND + local.microsecond


def _micro(local: datetime) -> int:
    """The offset of a time that has one."""
    shift = local.utcoffset()
    return 0 if shift is None else shift.days * _DAY + shift.seconds * _SECOND


def _offset(text: object) -> int:
    """The offset written; 0 for Z, and where none is written."""
    found = dates.moment(text)
    return 0 if found is None or found.tzinfo is None else _micro(found)
