"""The course of one wound: its sizes in time order, breaks marked, change computed, nothing called a diagnosis.

Sizes are compared only within one way of measuring: another method, other axes or a written area instead of
length and width begin a new stretch. Debridement and a long gap are marked and do not end a stretch, since
they explain a change and do not spoil it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from woundfhir.measures import change, size
from woundfhir.measures.units import MeasureError, to_unit
from woundfhir.record import History, dates
from woundfhir.record.quantity import Quantity, parse

Json = Any
WEEK = Decimal(7)
#: Words of every projection: it is arithmetic on past sizes.
PROJECTION = "arithmetical projection"


@dataclass(frozen=True, slots=True)
class Remark:
    """Something about one point that the reader must know; never a value."""

    code: str
    message: str
    visit: str


@dataclass(frozen=True, slots=True)
class Point:
    """One measurement.

    Attributes
    ----------
    visit, at, day
        Id and time of the visit as written; its calendar day.
    length, width, depth
        In cm, or None.
    area
        In cm2: length times width, or the area as written where those are missing.
    way
        How it was measured; only points of one way are compared.
    """

    visit: str
    at: str
    day: date
    length: Decimal | None
    width: Decimal | None
    depth: Decimal | None
    area: Decimal
    way: str


@dataclass(frozen=True, slots=True)
class Break:
    """A mark between two points: why they may not tell of healing alone."""

    before: str
    reason: str


@dataclass(frozen=True, slots=True)
class Threshold:
    """A published cut-off: so much smaller after so many weeks, and where it is from."""

    percent: Decimal
    weeks: int
    source: str


@dataclass(frozen=True, slots=True)
class Course:
    """The course of one wound. Changes are in per cent, minus is smaller; None where they cannot be had.

    Attributes
    ----------
    points
        All measurements, oldest first; ``stretch`` are those comparable with the newest.
    since_first, since_last, four_weeks
        Percentage area change within the stretch.
    advance
        Gilman's linear advance of the edge in cm a week over the stretch.
    rate
        Exponential rate a week over the stretch.
    projection
        Arithmetical projection of closure, or why there is none.
    """

    wound: str
    points: tuple[Point, ...] = ()
    stretch: tuple[Point, ...] = ()
    breaks: tuple[Break, ...] = ()
    remarks: tuple[Remark, ...] = ()
    since_first: Decimal | None = None
    since_last: Decimal | None = None
    four_weeks: Decimal | None = None
    advance: Decimal | None = None
    rate: Decimal | None = None
    projection: change.Projection = field(default_factory=lambda: change.Projection(None, None, "no measurements"))
    thresholds: tuple[tuple[Threshold, bool | None], ...] = ()
    next_change: str | None = None
    next_full_assessment: str | None = None


def course(
    history: History,
    wound_id: str,
    *,
    gap_days: int = 14,
    thresholds: Iterable[Threshold] = (),
    sharp: Callable[[str], bool] = lambda kind: False,
    units: Mapping[str, str] | None = None,
) -> Course:
    """Return the course of one wound.

    Parameters
    ----------
    history
        One client's record; drafts, replaced notes and notes entered in error are left out.
    wound_id
        Id of the wound.
    gap_days
        A longer time between two measurements is marked.
    thresholds
        Published cut-offs to hold the change against, from the policy in force.
    sharp
        Tells whether a kind of debridement takes tissue away at once.
    units
        Spelling -> UCUM code; the catalogue's when left out.

    Examples
    --------
    >>> def seen(day, length): return {"id": day, "at": day, "status": "final", "wounds": [
    ...     {"wound": "W1", "assessment": {"length": length, "width": "2.0 cm"}}]}
    >>> h = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}],
    ...     "visits": [seen("2026-03-01", "4.0 cm"), seen("2026-03-08", "3.0 cm")]})
    >>> course(h, "W1").since_first
    Decimal('-25.00')
    """
    known = units if units is not None else _units()
    entries, remarks = _entries(history, wound_id)
    points: list[Point] = []
    breaks: list[Break] = []
    debrided = False
    for visit, entry in entries:
        point = _point(visit, entry.get("assessment", {}), known, remarks)
        if point is not None and points and point.day == points[-1].day and point.at == points[-1].at:
            remarks.append(Remark("two-at-once", "two measurements at the same time; the first is used", visit["id"]))
            point = None
        if point is not None:
            if points:
                breaks.extend(_breaks(points[-1], point, debrided, gap_days))
            points.append(point)
            debrided = False
        debrided = debrided or _debrided(entry.get("care", {}), sharp)
    made = _measured(wound_id, points, breaks, remarks, tuple(thresholds))
    return _planned(made, [entry for _, entry in entries])


def _units() -> Mapping[str, str]:
    from woundfhir.catalogue import catalogue

    return catalogue().units


def _entries(history: History, wound_id: str) -> tuple[list[tuple[dict[str, Json], dict[str, Json]]], list[Remark]]:
    """The entries that count, oldest first."""
    replaced = {visit["replaces"] for visit in history.visits if "replaces" in visit}
    remarks: list[Remark] = []
    kept = []
    for visit, entry in history.entries(wound_id):
        if visit["id"] in replaced or visit.get("status") in ("draft", "entered in error"):
            continue
        if dates.day(visit.get("at")) is None:
            if "length" in entry.get("assessment", {}) or "area" in entry.get("assessment", {}):
                remarks.append(Remark("no-day", "measured on a day that is not told; left out", visit["id"]))
            continue
        kept.append((visit, entry))
    order = sorted(range(len(kept)), key=lambda i: (_moment(kept[i][0]["at"]), i))
    if order != list(range(len(kept))):
        remarks.append(Remark("unsorted", "the visits were not in time order; they are sorted here", kept[order[0]][0]["id"]))
    return [kept[i] for i in order], remarks


def _moment(at: str) -> tuple[str, str]:
    found = dates.moment(at)
    if found is not None and found.tzinfo is not None:
        from datetime import UTC

        found = found.astimezone(UTC)
    return (found.replace(tzinfo=None).isoformat() if found else "", at)


def _centimetres(answer: Json, known: Mapping[str, str], wanted: str) -> Decimal | None:
    """An answer in cm or cm2, or None; raises MeasureError for a unit that does not fit or none."""
    found: Quantity | None = parse(answer)
    if found is None or found.comparator:
        return None
    return to_unit(found.value, known.get(found.unit) if found.unit else None, wanted)


def _point(visit: Mapping[str, Json], seen: Mapping[str, Json], known: Mapping[str, str], remarks: list[Remark]) -> Point | None:
    values: dict[str, Decimal | None] = {}
    for key, wanted in (("length", "cm"), ("width", "cm"), ("depth", "cm"), ("area", "cm2")):
        try:
            values[key] = _centimetres(seen.get(key), known, wanted)
        except MeasureError:
            remarks.append(Remark("unit", f"{key} has no unit, or one that is no {wanted}; left out", str(visit["id"])))
            values[key] = None
        if (value := values[key]) is not None and value < 0:
            remarks.append(Remark("below-zero", f"{key} is below zero; left out", str(visit["id"])))
            values[key] = None
    length, width, written = values["length"], values["width"], values["area"]
    method = f"{seen.get('measure_method', 'method not told')}, {seen.get('measure_axis', 'axes not told')}"
    if length is not None and width is not None:
        if (length == 0) != (width == 0):
            remarks.append(Remark("half-zero", "only one of length and width is zero; left out", str(visit["id"])))
            return None
        area = size.area_rectangle(length, width) if length else Decimal(0)
        way = f"length x width, {method}"
    elif written is not None:
        area, way = written, f"area as written, {method}"
    else:
        if length is not None or width is not None:
            remarks.append(Remark("half-size", "length or width is missing; left out", str(visit["id"])))
        return None
    day = dates.day(visit["at"])
    return None if day is None else Point(str(visit["id"]), str(visit["at"]), day, length, width, values["depth"], area, way)


def _debrided(care: Mapping[str, Json], sharp: Callable[[str], bool]) -> bool:
    done = care.get("debridement")
    return isinstance(done, list) and any(sharp(item.get("kind", "")) for item in done if isinstance(item.get("kind", ""), str))


def _breaks(last: Point, now: Point, debrided: bool, gap_days: int) -> list[Break]:
    found = []
    if last.way != now.way:
        found.append(Break(now.visit, "measured in another way"))
    if debrided:
        found.append(Break(now.visit, "debrided in between"))
    if (now.day - last.day).days > gap_days:
        found.append(Break(now.visit, f"more than {gap_days} days in between"))
    return found


def _measured(
    wound_id: str, points: list[Point], breaks: list[Break], remarks: list[Remark], thresholds: tuple[Threshold, ...]
) -> Course:
    if not points:
        return Course(wound_id, remarks=tuple(remarks))
    start = len(points) - 1
    while start > 0 and points[start - 1].way == points[-1].way:
        start -= 1
    stretch = points[start:]
    first, last = stretch[0], stretch[-1]
    if first.area == 0 and len(stretch) > 1:
        remarks.append(Remark("zero-start", "the first area is zero: no per cent of nothing", first.visit))
    if len(stretch) > 1 and last.area > stretch[-2].area:
        remarks.append(Remark("larger", "larger than at the last measurement: has it been looked at, and why?", last.visit))
    days = [Decimal((p.day - first.day).days) for p in stretch]
    weeks = days[-1] / WEEK
    return Course(
        wound_id,
        points=tuple(points),
        stretch=tuple(stretch),
        breaks=tuple(breaks),
        remarks=tuple(remarks),
        since_first=_try(lambda: change.percent_area_change(first.area, last.area)) if len(stretch) > 1 else None,
        since_last=_try(lambda: change.percent_area_change(stretch[-2].area, last.area)) if len(stretch) > 1 else None,
        four_weeks=_after(stretch, 4),
        advance=_advance(first, last, weeks),
        rate=_try(lambda: change.log_rate(first.area, last.area, weeks)) if weeks > 0 else None,
        projection=change.project_linear(days, [p.area for p in stretch]),
        thresholds=tuple((t, _reached(stretch, t)) for t in thresholds),
    )


def _try(work: Callable[[], Decimal]) -> Decimal | None:
    try:
        return work()
    except MeasureError:
        return None


def _after(stretch: list[Point], weeks: int) -> Decimal | None:
    """Change from the first point to the measurement nearest to so many weeks later (within one week of it)."""
    target = weeks * 7
    near = [p for p in stretch[1:] if abs((p.day - stretch[0].day).days - target) <= 7]
    if not near:
        return None
    best = min(near, key=lambda p: abs((p.day - stretch[0].day).days - target))
    return _try(lambda: change.percent_area_change(stretch[0].area, best.area))


def _reached(stretch: list[Point], threshold: Threshold) -> bool | None:
    """Whether the wound was smaller by so much at that time; None while it cannot be told."""
    found = _after(stretch, threshold.weeks)
    return None if found is None else -found >= threshold.percent


def _advance(first: Point, last: Point, weeks: Decimal) -> Decimal | None:
    sides = (first.length, first.width, last.length, last.width)
    if weeks <= 0 or any(side is None or side <= 0 for side in sides):
        return None
    a, b, c, d = (side for side in sides if side is not None)
    moved = change.gilman_advance(
        size.area_ellipse(a, b), size.area_ellipse(c, d), size.perimeter_ellipse(a, b), size.perimeter_ellipse(c, d)
    )
    return moved / weeks


def _planned(made: Course, entries: list[dict[str, Json]]) -> Course:
    from dataclasses import replace

    plans = [entry["plan"] for entry in entries if "plan" in entry]

    def newest(key: str) -> str | None:
        return next((p[key] for p in reversed(plans) if isinstance(p.get(key), str)), None)

    return replace(made, next_change=newest("next_change"), next_full_assessment=newest("next_full_assessment"))
