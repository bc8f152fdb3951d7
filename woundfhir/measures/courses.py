"""What a course of sizes is made of: points, breaks, segments, and the numbers computed from them."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from woundfhir.measures.points import Point, Remark
from woundfhir.measures.projection import Projection


@dataclass(frozen=True, slots=True)
class Break:
    """A mark between two points: why the change may not be healing alone.

    Attributes
    ----------
    before
        Visit of the later point.
    reason
        In words.
    kind
        ``method``, ``closure``, ``event`` or ``gap``.

    Examples
    --------
    >>> Break("V3", "measured in another way", "method")
    Break(before='V3', reason='measured in another way', kind='method')
    """

    before: str
    reason: str
    kind: str = ""


class Segment(NamedTuple):
    """Points between two breaks: places of the first and the last in ``points``, and why a new one began.

    Examples
    --------
    >>> from woundfhir.measures import Measured, trend
    >>> found = trend([Measured("2026-03-02", "4 cm", "2 cm"), Measured("2026-03-16", "2 cm", "2 cm")])
    >>> found.segments
    (Segment(first=0, last=1, reasons=()),)
    """

    first: int
    last: int
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Threshold:
    """A published cut-off: so many per cent smaller after so many weeks, and where it is from.

    Examples
    --------
    >>> one = Threshold(Decimal(40), 4, "a published study")
    >>> f"{one.percent} % in {one.weeks} weeks"
    '40 % in 4 weeks'
    """

    percent: Decimal
    weeks: int
    source: str


@dataclass(frozen=True, slots=True)
class Course:
    """The course of one wound. Changes are in per cent, minus is smaller; None where they cannot be computed.

    Attributes
    ----------
    points
        All measurements that can be used, oldest first.
    stretch
        Those of the newest episode that were measured in the way of the newest: only they are compared.
    segments
        ``points`` cut at the breaks.
    breaks, remarks
        What a reader must know; see there.
    larger
        Places in ``points`` of those larger than the one of the same way before. A question, not a diagnosis.
    since_first, since_last
        Percentage area change of the newest point within the stretch.
    four_weeks
        Over the first four weeks of the stretch: what the published cut-offs speak of.
    last_four_weeks
        Over the newest four weeks of the stretch.
    advance
        Gilman's linear advance of the edge in cm a week over the stretch; minus outwards.
    rate, half_life
        Exponential rate a week over the stretch, and the weeks in which the area halves at it.
    projection
        Arithmetical projection of closure over the stretch, or why there is none.
    thresholds
        Each cut-off with yes or no, or None where no measurement at that time can be compared.
    next_change, next_full_assessment
        What is planned, as written; for the reader of a chart.

    Examples
    --------
    >>> from woundfhir.measures import Measured, trend
    >>> found = trend([Measured("2026-03-02", "4 cm", "2 cm"), Measured("2026-03-16", "2 cm", "2 cm")])
    >>> len(found.points), found.since_first, found.breaks
    (2, Decimal('-50.0'), ())
    """

    wound: str = ""
    points: tuple[Point, ...] = ()
    stretch: tuple[Point, ...] = ()
    breaks: tuple[Break, ...] = ()
    remarks: tuple[Remark, ...] = ()
    since_first: Decimal | None = None
    since_last: Decimal | None = None
    four_weeks: Decimal | None = None
    advance: Decimal | None = None
    rate: Decimal | None = None
    projection: Projection = field(default_factory=lambda: Projection(None, None, "no measurements"))
    thresholds: tuple[tuple[Threshold, bool | None], ...] = ()
    next_change: str | None = None
    next_full_assessment: str | None = None
    segments: tuple[Segment, ...] = ()
    larger: tuple[int, ...] = ()
    last_four_weeks: Decimal | None = None
    half_life: Decimal | None = None
