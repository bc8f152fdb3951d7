"""Sizes over the visits and their change, in words; the arithmetic is that of ``measures.course``."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.handover.summary.words import Fact, known, said, short
from woundfhir.measures import percent_area_change
from woundfhir.measures.course import Course, Point
from woundfhir.measures.rounding import percent_text

Json = Any
Items = Sequence[tuple[dict[str, Json], Mapping[str, Json]]]


@dataclass(frozen=True, slots=True)
class Size:
    """One measurement: when, the sizes as written, and the area in cm2 where there is one that can be compared."""

    at: str | None
    text: str
    area: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """Change of area in per cent since an earlier measurement (minus is smaller), or why there is no number."""

    since: str | None
    percent: Decimal | None
    reason: str = ""

    @property
    def text(self) -> str:
        """In words.

        Examples
        --------
        >>> Change("2026-03-02", Decimal("-68.269")).text, Change("2026-03-02", None, "method changed").text
        ('68 % smaller', 'method changed')
        """
        if self.percent is None:
            return self.reason
        return percent_text(self.percent)

    @property
    def dated(self) -> str:
        """The words with the day they count from."""
        return f"{self.text} since {short(self.since)}"


@dataclass(frozen=True, slots=True)
class Measured:
    """Newest and first size, and the change between them and since the last one before."""

    size: Size | None = None
    first: Size | None = None
    since_first: Change | None = None
    since_last: Change | None = None


def _of_one_episode(
    found: list[tuple[dict[str, Json], Size]], points: Mapping[str, Point]
) -> list[tuple[dict[str, Json], Size]]:
    """The sizes since the wound opened again, where it had closed: nothing is compared across a closure."""
    start, last = 0, None
    for place, (visit, _) in enumerate(found):
        point = points.get(visit["id"])
        if point is not None and last is not None and point.episode != last:
            start = place
        last = last if point is None else point.episode
    return found[start:]


def _sure(at: str | None, earlier: Point | None, now: Point | None, course: Course) -> Change:
    """The change, unless the order in time of the two measurements is not certain."""
    if earlier is not None and now is not None and not (earlier.certain and now.certain):
        return Change(at, None, "not computed: the order of the notes in time is not certain")
    return _change(at, earlier, now, course)


def measured(items: Items, course: Course) -> Measured:
    """Return newest and first size out of (visit, assessment), oldest first, with the change of their area.

    Only areas by one method are compared (``measures.course``); else the change says "method changed".
    """
    points = {point.visit: point for point in course.points}
    found = [(visit, size) for visit, assessment in items if (size := _size(visit, assessment, points)) is not None]
    found = _of_one_episode(found, points)
    if not found:
        return Measured()
    (_, first), (visit, newest) = found[0], found[-1]
    if len(found) == 1:
        return Measured(newest, first)
    now = points.get(visit["id"])
    earlier = [points.get(other["id"]) for other, _ in found]
    return Measured(
        newest, first, _sure(first.at, earlier[0], now, course), _sure(found[-2][1].at, earlier[-2], now, course)
    )


def _size(visit: dict[str, Json], assessment: Mapping[str, Json], points: Mapping[str, Point]) -> Size | None:
    written = [key for key in ("length", "width", "area") if known(assessment.get(key))]
    concepts = catalogue().groups["assessment"]
    parts = [f"{key} {assessment[key]}" for key in ("length", "width") if key in written]
    if len(parts) == 2:
        parts = [f"{assessment['length']} x {assessment['width']}"]
    if known(assessment.get("depth")):
        parts.append(f"depth {said(concepts['depth'], assessment['depth'])}")
    if "area" in written:
        parts.append(f"area {said(concepts['area'], assessment['area'])}")
    point = points.get(visit["id"])
    return Size(visit.get("at"), ", ".join(parts), point.area if point else None) if written else None


def _change(at: str | None, earlier: Point | None, now: Point | None, course: Course) -> Change:
    if earlier is None or now is None:
        return Change(at, None, "not computed: no plain size")
    if earlier.way == now.way:
        if earlier.area == 0:
            return Change(at, None, "not computed: the earlier area is 0")
        return Change(at, percent_area_change(earlier.area, now.area))
    start = course.stretch[0]
    if start.visit == now.visit or course.since_first is None:
        return Change(at, None, "method changed")
    return Change(at, None, f"method changed; {Change(start.at, course.since_first).dated}")


def deep(items: Items) -> tuple[Fact, ...]:
    """Return the newest undermining and tunnels, in words with their hours."""
    out = []
    for key, words in _DEEP.items():
        for visit, assessment in reversed(items):
            value = assessment.get(key)
            if known(value):
                text = value if isinstance(value, str) else "; ".join(words(item) for item in value or ())
                out.append(Fact(catalogue().groups["assessment"][key].label, text, visit.get("at")))
                break
    return tuple(out)


def _undermining(item: Mapping[str, Json]) -> str:
    concept = catalogue().groups["assessment"]["undermining"]
    told = {key: said(concept.fields[key], item[key]) for key in concept.fields if key in item}
    parts = []
    if "from" in told or "to" in told:
        parts.append(f"from {told.get('from', 'not written')} to {told.get('to', 'not written')} o'clock")
    if "depth" in told:
        parts.append(f"{told['depth']} deep")
    return ", ".join([*parts, *([item["note"]] if "note" in item else [])])


def _tunnel(item: Mapping[str, Json]) -> str:
    concept = catalogue().groups["assessment"]["tunnels"]
    told = {key: said(concept.fields[key], item[key]) for key in concept.fields if key in item}
    parts = [f"at {told['clock']} o'clock"] if "clock" in told else []
    if "depth" in told:
        parts.append(f"{told['depth']} deep")
    if "end_felt" in told:
        parts.append("end felt" if told["end_felt"] == "yes" else f"end felt: {told['end_felt']}")
    return ", ".join([*parts, *([item["note"]] if "note" in item else [])])


_DEEP: dict[str, Callable[[Mapping[str, Json]], str]] = {"undermining": _undermining, "tunnels": _tunnel}
