"""Sizes over the visits and their change, in words; the arithmetic is that of ``measures.course``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.handover.summary.words import known, said, short
from woundfhir.handover.texts import say
from woundfhir.measures import percent_area_change
from woundfhir.measures.course import Course, Point
from woundfhir.measures.rounding import percent_text

Json = Any
Items = Sequence[tuple[dict[str, Json], Mapping[str, Json]]]
#: What a size is made of, in the order of its words.
_SIZES = ("length", "width", "depth", "area")


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
        return say("size.since", words=self.text, day=short(self.since))


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
    concepts = catalogue().groups["assessment"]
    told = {key: said(concepts[key], assessment[key]) for key in _SIZES if known(assessment.get(key))}
    if not told.keys() - {"depth"}:
        return None
    parts = [say(f"size.{key}", words=words) for key, words in told.items()]
    if {"length", "width"} <= told.keys():
        parts[:2] = [say("size.plane", length=told["length"], width=told["width"])]
    point = points.get(visit["id"])
    return Size(visit.get("at"), ", ".join(parts), point.area if point else None)


def _change(at: str | None, earlier: Point | None, now: Point | None, course: Course) -> Change:
    if earlier is None or now is None:
        return Change(at, None, say("size.no_plain"))
    if earlier.way == now.way:
        if earlier.area == 0:
            return Change(at, None, say("size.from_zero"))
        return Change(at, percent_area_change(earlier.area, now.area))
    start = course.stretch[0]
    if start.visit == now.visit or course.since_first is None:
        return Change(at, None, say("size.method"))
    return Change(at, None, say("size.method_since", words=Change(start.at, course.since_first).dated))
