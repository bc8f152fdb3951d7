"""How the size of one wound has changed: breaks marked, change computed, nothing called a diagnosis.

Sizes are compared only within one way of measuring and within one episode of the wound. Another method, a written area
instead of length and width, a closure, debridement and a long gap are marked as breaks; only the way of measuring and
a closure decide what may be compared, since the others explain a change and do not spoil it. Where the order of two
measurements in time is not certain, no change is computed that rests on it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from types import MappingProxyType

from woundfhir.chart.time import certain
from woundfhir.measures import change, size
from woundfhir.measures.courses import Break, Course, Segment, Threshold
from woundfhir.measures.placing import Placed, in_time, point
from woundfhir.measures.points import Measured, Point, Remark
from woundfhir.measures.projection import Projection, project_linear
from woundfhir.measures.spans import after, between, last_weeks, reached
from woundfhir.measures.texts import say
from woundfhir.record.units import MeasureError

WEEK = Decimal(7)


def trend(
    measurements: Iterable[Measured],
    *,
    wound: str = "",
    gap_days: int = 14,
    thresholds: Iterable[Threshold] = (),
    spellings: Mapping[str, str] = MappingProxyType({}),
    next_change: str | None = None,
    next_full_assessment: str | None = None,
) -> Course:
    """Return the course of one wound from its measurements.

    Nothing that comes in makes it fail: what cannot be used is left out and remarked.

    Parameters
    ----------
    measurements
        In any order; a visit without a size may be among them for its events.
    wound, next_change, next_full_assessment
        Put into the result as they are.
    gap_days
        A longer time between two measurements is marked; from the policy in force.
    thresholds
        Published cut-offs to hold the change against, from the policy in force.
    spellings
        Spelling -> UCUM code for units that are not written in UCUM.

    Returns
    -------
    Course

    Examples
    --------
    >>> made = trend([Measured("2026-03-01", "4.0 cm", "2.0 cm"), Measured("2026-03-08", "30 mm", "2.0 cm")])
    >>> made.since_first, made.projection.reason
    (Decimal('-25.00'), 'fewer than three measurements')
    >>> [remark.code for remark in made.remarks]
    ['mixed-units', 'no-depth']
    """
    remarks: list[Remark] = []
    usable, breaks, segments = _usable(in_time(measurements, remarks), spellings, gap_days, remarks)
    if not usable:
        return Course(wound, remarks=tuple(remarks), next_change=next_change, next_full_assessment=next_full_assessment)
    points = [found for _, found in usable]
    places = [i for i, found in enumerate(points) if _side_by_side(found, points[-1])]
    stretch = [points[i] for i in places]
    larger = _larger(points)
    _remark_on_change(usable, places, larger, remarks)
    return replace(
        _computed(stretch, thresholds),
        wound=wound,
        points=tuple(points),
        segments=tuple(segments),
        breaks=tuple(breaks),
        remarks=tuple(remarks),
        larger=tuple(larger),
        next_change=next_change,
        next_full_assessment=next_full_assessment,
    )


def _computed(stretch: Sequence[Point], thresholds: Iterable[Threshold]) -> Course:
    """Return a course with the points that are compared and what is computed from them, and nothing else yet."""
    first, last = stretch[0], stretch[-1]
    days = [Decimal((p.day - first.day).days) for p in stretch]
    weeks = days[-1] / WEEK
    sure = first.certain and last.certain
    rate = _try(lambda: change.log_rate(first.area, last.area, weeks)) if sure else None
    return Course(
        stretch=tuple(stretch),
        since_first=between(first, last) if len(stretch) > 1 else None,
        since_last=between(stretch[-2], last) if len(stretch) > 1 else None,
        four_weeks=after(stretch, 4)[0],
        last_four_weeks=last_weeks(stretch, 4),
        advance=_advance(first, last, weeks) if sure else None,
        rate=rate,
        half_life=None if rate is None else _try(lambda: change.half_life(rate)),
        projection=_projection(days, stretch),
        thresholds=tuple((threshold, reached(stretch, threshold)) for threshold in thresholds),
    )


def _usable(
    ordered: Sequence[Placed], spellings: Mapping[str, str], gap_days: int, remarks: list[Remark]
) -> tuple[list[tuple[Placed, Point]], list[Break], list[Segment]]:
    """Points in order of time, the breaks between them and the segments that these make."""
    usable: list[tuple[Placed, Point]] = []
    breaks: list[Break] = []
    segments: list[Segment] = []
    events: list[str] = []
    for one in ordered:
        found = point(one, spellings, remarks)
        if found is not None:
            # Nothing left to measure is the same by any method.
            if found.area == 0 and usable and usable[-1][1].episode == found.episode:
                found = replace(found, way=usable[-1][1].way)
            new = _breaks(usable[-1][1], found, events, gap_days) if usable else []
            breaks += new
            if new or not usable:
                segments.append(Segment(len(usable), len(usable), tuple(mark.reason for mark in new)))
            else:
                segments[-1] = segments[-1]._replace(last=len(usable))
            usable.append((one, found))
            events = []
        events += [event for event in one.measured.events if event not in events]
    return _with_certainty(usable, remarks), breaks, segments


def _with_certainty(usable: list[tuple[Placed, Point]], remarks: list[Remark]) -> list[tuple[Placed, Point]]:
    """Say of each point whether its place in the order is certain, with one remark where one is not."""
    sure = certain([found.when for _, found in usable])
    for (one, found), firm in zip(reversed(usable), reversed(sure), strict=True):
        if not firm:
            remarks.append(Remark("order", say("remark.order"), found.visit, one.place))
            break
    return [(one, replace(found, certain=firm)) for (one, found), firm in zip(usable, sure, strict=True)]


def _side_by_side(one: Point, other: Point) -> bool:
    return one.way == other.way and one.episode == other.episode


def _projection(days: Sequence[Decimal], stretch: Sequence[Point]) -> Projection:
    if not stretch[-1].certain:
        return Projection(None, None, say("projection.order"))
    return project_linear(days, [one.area for one in stretch])


def _breaks(last: Point, now: Point, events: Iterable[str], gap_days: int) -> list[Break]:
    found = [Break(now.visit, say("why.method"), "method")] if last.way != now.way else []
    if last.episode != now.episode:
        found.append(Break(now.visit, say("why.closure"), "closure"))
    found += [Break(now.visit, say("why.event", event=event), "event") for event in events]
    if (now.day - last.day).days > gap_days:
        found.append(Break(now.visit, say("why.gap", days=gap_days), "gap"))
    return found


def _larger(points: Sequence[Point]) -> list[int]:
    newest: dict[str, Point] = {}
    found = []
    for index, one in enumerate(points):
        last = newest.get(one.way)
        if last is not None and one.area > last.area and last.episode == one.episode and last.when.before(one.when):
            found.append(index)
        newest[one.way] = one
    return found


def _remark_on_change(
    usable: Sequence[tuple[Placed, Point]], places: Sequence[int], larger: Sequence[int], remarks: list[Remark]
) -> None:
    """Remarks on the first and the newest of the points that are compared."""
    start, end = usable[places[0]], usable[places[-1]]
    if start[1].area == 0 and len(places) > 1:
        remarks.append(Remark("zero-start", say("remark.zero-start"), start[1].visit, start[0].place))
    if larger and larger[-1] == places[-1]:
        remarks.append(Remark("larger", say("remark.larger"), end[1].visit, end[0].place))
    if end[1].length and end[1].depth is None:
        remarks.append(Remark("no-depth", say("remark.no-depth"), end[1].visit, end[0].place))


def _try(work: Callable[[], Decimal]) -> Decimal | None:
    try:
        return work()
    except MeasureError:
        return None


def _advance(first: Point, last: Point, weeks: Decimal) -> Decimal | None:
    a, b, c, d = first.length, first.width, last.length, last.width
    if weeks <= 0 or a is None or b is None or c is None or d is None or first.area == 0:
        return None
    now = (size.area_ellipse(c, d), size.perimeter_ellipse(c, d)) if last.area else (Decimal(0), Decimal(0))
    return change.gilman_advance(size.area_ellipse(a, b), now[0], size.perimeter_ellipse(a, b), now[1]) / weeks
