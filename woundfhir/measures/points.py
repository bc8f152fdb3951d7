"""A size as it is charted, a remark on it, and the point that it makes, which can be compared with others."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from woundfhir.chart.time import NO_TIME, When
from woundfhir.measures import size
from woundfhir.measures.change import percent_area_change
from woundfhir.measures.rounding import fewest
from woundfhir.measures.texts import say
from woundfhir.record import dates


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
