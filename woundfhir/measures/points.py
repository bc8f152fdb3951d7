"""From sizes as they are written to points that can be compared; what cannot be used is remarked, never guessed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from woundfhir.chart.time import NO_TIME, Clock, When
from woundfhir.measures import size
from woundfhir.measures.change import percent_area_change
from woundfhir.measures.rounding import converted_digits, fewest
from woundfhir.measures.texts import say
from woundfhir.record import dates
from woundfhir.record.quantity import parse
from woundfhir.record.units import MeasureError, to_unit

#: No wound is larger than a body: cm, cm2. Common sense, no source.
_MOST = {"cm": Decimal(300), "cm2": Decimal(30000)}
#: Takes the code and the message of a remark.
Note = Callable[..., None]
_WANTED = (("length", "cm"), ("width", "cm"), ("depth", "cm"), ("area", "cm2"))


@dataclass(frozen=True, slots=True)
class Measured:
    """What one visit says of the size of one wound, as written.

    Attributes
    ----------
    at
        Date, or date and time, as written.
    length, width, depth, area
        Quantities as text ("4.10 cm"); None where nothing is written.
    method
        How it was measured, in any words; only sizes with equal words are compared.
    events
        What was done at this visit that changes the size at once, as a word that goes before "in between"
        ("debrided"). It stands between this measurement and the next one.
    visit
        Id of the visit; its place in the list where there is none.
    when
        What ``at`` can mean, where the caller knows more than the text says (the zone of the record).
    episode
        Number of the wound's episode: sizes are compared within one, never across a closure.

    Examples
    --------
    >>> one = Measured("2026-03-02", "4.10 cm", "2 cm", method="ruler")
    >>> one.length, one.depth
    ('4.10 cm', None)
    """

    at: str | date
    length: str | None = None
    width: str | None = None
    depth: str | None = None
    area: str | None = None
    method: str = ""
    events: tuple[str, ...] = ()
    visit: str = ""
    when: When | None = None
    episode: int = 0


@dataclass(frozen=True, slots=True)
class Remark:
    """Something that the reader must know about one measurement; never a value.

    Attributes
    ----------
    code
        A short stable name.
    message
        In words.
    visit, index
        Id of the visit, and its place in what came in.

    Examples
    --------
    >>> from woundfhir.measures import trend
    >>> [(one.code, one.index) for one in trend([Measured("2026-03-02", "about 4 cm", "2 cm")]).remarks]
    [('words', 0), ('half-size', 0)]
    """

    code: str
    message: str
    visit: str
    index: int


@dataclass(frozen=True, slots=True)
class Point:
    """One measurement.

    Attributes
    ----------
    visit, at
        Id and time of the visit as written.
    day
        Its day on a line of time that never runs backwards; ``date`` is the calendar day as written.
    length, width, depth
        In cm, or None.
    area
        In cm2: length times width, or the area as written where those are missing.
    way
        How it was measured; only points of one way are compared.
    when
        What the time can mean; see ``woundfhir.chart.time``.
    episode
        Number of the wound's episode; only points of one episode are compared.
    digits
        Significant digits that length, width, depth and area keep for a reader where they were converted from a unit
        that is not metric; None where not.
    certain
        Whether the points before it are certainly earlier, and those after it later.

    Examples
    --------
    >>> from woundfhir.measures import trend
    >>> one = trend([Measured("2026-03-02", "40 mm", "2 cm")]).points[0]
    >>> one.length, one.area, one.date
    (Decimal('4.0'), Decimal('8.0'), datetime.date(2026, 3, 2))
    """

    visit: str
    at: str
    day: date
    length: Decimal | None
    width: Decimal | None
    depth: Decimal | None
    area: Decimal
    way: str
    when: When = NO_TIME
    episode: int = 0
    certain: bool = True
    digits: tuple[int | None, ...] = (None, None, None, None)

    @property
    def sides(self) -> tuple[tuple[Decimal | None, int | None], ...]:
        """Length, width and depth, each with its digits."""
        return tuple(zip((self.length, self.width, self.depth), self.digits, strict=False))

    @property
    def volume_digits(self) -> int | None:
        """How many digits of the volume a reader sees; None where nothing was converted."""
        return fewest(*self.digits[:3])

    @property
    def area_digits(self) -> int | None:
        """How many digits of the area a reader sees; None where nothing was converted."""
        both = self.length is not None and self.width is not None
        return fewest(*self.digits[:2]) if both else self.digits[3]

    @property
    def date(self) -> date:
        """The calendar day as written."""
        return dates.day(self.at) or self.day

    @property
    def volume(self) -> Decimal | None:
        """Volume by Kundin's factor in cm3; None without all three sides above zero."""
        if not self.length or not self.width or not self.depth:
            return None
        return size.volume_kundin(self.length, self.width, self.depth)


class Placed(NamedTuple):
    """A measurement with its place in the list, its day and its time."""

    place: int
    visit: str
    measured: Measured
    at: str
    day: date
    when: When


def in_time(measurements: Iterable[Measured], remarks: list[Remark]) -> list[Placed]:
    """Return the measurements in order of time; those without a whole day are left out, with a remark.

    The order is that of ``woundfhir.chart.time``; measurements that stand at the same time keep the order in which
    they came.
    """
    found = list(measurements)
    times = [one.at if isinstance(one.at, str) else one.at.isoformat() for one in found]
    clock = Clock(None, times)
    placed = []
    for index, (one, at) in enumerate(zip(found, times, strict=True)):
        visit = one.visit or str(index)
        day = dates.day(at)
        if day is not None:
            placed.append(Placed(index, visit, one, at, day, one.when or clock.when(at)))
        elif any((one.length, one.width, one.area)):
            remarks.append(Remark("no-day", say("remark.no-day"), visit, index))
    ordered = sorted(placed, key=lambda one: (one.when.order, one.place))
    for first, sorted_one in zip(placed, ordered, strict=True):
        if first is not sorted_one:
            remarks.append(Remark("unsorted", say("remark.unsorted"), sorted_one.visit, sorted_one.place))
            break
    return _forwards(ordered)


def _forwards(ordered: list[Placed]) -> list[Placed]:
    """Days never run backwards: a later visit on an earlier day (in another offset) is placed on the day before it."""
    out: list[Placed] = []
    for one in ordered:
        out.append(one._replace(day=max(one.day, out[-1].day)) if out else one)
    return out


def compared(earlier: Point, now: Point) -> tuple[Decimal | None, str]:
    """Return the change of area from one measurement to a later one in per cent, or why there is no number.

    Returns
    -------
    tuple
        The change, minus is smaller, and no words; or None and the reason in words.

    Examples
    --------
    >>> from woundfhir.measures import Measured, trend
    >>> first, second = trend([Measured("2026-03-01", "4 cm", "2 cm"), Measured("2026-03-08", "3 cm", "2 cm")]).points
    >>> compared(first, second), compared(second, first)
    ((Decimal('-25.00'), ''), (None, 'the order in time is not certain'))
    """
    if earlier.way != now.way:
        return None, say("why.method")
    if earlier.episode != now.episode:
        return None, say("why.closure")
    if not earlier.when.before(now.when):
        return None, say("why.order")
    if earlier.area == 0:
        return None, say("why.zero")
    return percent_area_change(earlier.area, now.area), ""


def point(one: Placed, spellings: Mapping[str, str], remarks: list[Remark]) -> Point | None:
    """Return the point of one measurement, or None with a remark where what is written gives no area."""

    def remark(code: str, **slots: str) -> None:
        remarks.append(Remark(code, say(f"remark.{code}", **slots), one.visit, one.place))

    sides: list[Decimal | None] = []
    units: set[str] = set()
    digits: list[int | None] = []
    for key, wanted in _WANTED:
        side, count = _side(key, getattr(one.measured, key), wanted, spellings, units, remark)
        sides.append(side)
        digits.append(count)
    length, width, depth, written = sides
    if len(units) > 1:
        remark("mixed-units")
    way = one.measured.method or say("measures.method_missing")
    if length is not None and width is not None:
        if (length == 0) != (width == 0):
            remark("half-zero")
            return None
        area, way = size.area_rectangle(length, width) if length else Decimal(0), say("measures.plane", way=way)
    elif written is not None:
        area, way = written, say("measures.as_written", way=way)
    else:
        if length is not None or width is not None:
            remark("half-size")
        return None
    return Point(
        visit=one.visit,
        at=one.at,
        day=one.day,
        length=length,
        width=width,
        depth=depth,
        area=area,
        way=way,
        when=one.when,
        episode=one.measured.episode,
        digits=tuple(digits),
    )


def _side(
    key: str, text: object, wanted: str, spellings: Mapping[str, str], units: set[str], remark: Note
) -> tuple[Decimal | None, int | None]:
    """Return a side in the unit wanted, and how many digits of it are known where it was converted."""
    if not isinstance(text, str) or not text:
        return None, None
    found = parse(text)
    if found is None:
        remark("words", side=say(f"remark.{key}"))
        return None, None
    if found.comparator:
        remark("not-exact", side=say(f"remark.{key}"))
        return None, None
    unit = spellings.get(found.unit, found.unit) if found.unit else None
    try:
        value = to_unit(found.value, unit, wanted)
    except MeasureError:
        remark("unit", side=say(f"remark.{key}"), wanted=wanted)
        return None, None
    if value < 0:
        remark("below-zero", side=say(f"remark.{key}"))
        return None, None
    if value > _MOST[wanted]:
        remark("too-large", side=say(f"remark.{key}"))
        return None, None
    if wanted == "cm" and unit:
        units.add(unit)
    return value, converted_digits(found.value, unit or wanted, wanted)
