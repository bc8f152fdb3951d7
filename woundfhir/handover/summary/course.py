"""Sizes over the visits and their change, in words; the arithmetic is that of ``measures.course``."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from woundfhir.catalogue import catalogue
from woundfhir.chart import EntryView
from woundfhir.chart.asking import known
from woundfhir.handover.summary.words import short
from woundfhir.handover.texts import say
from woundfhir.measures.course import Course, Point
from woundfhir.measures.points import compared
from woundfhir.measures.rounding import percent_text
from woundfhir.record.shapes import words

#: What a size is made of, in the order of its words.
SIZES = ("length", "width", "depth", "area")


@dataclass(frozen=True, slots=True)
class Size:
    """One measurement: when, the sizes as written, and the point of the course where it can be compared."""

    at: str | None
    text: str
    point: Point | None = None


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
        return self.reason if self.percent is None else percent_text(self.percent)

    @property
    def dated(self) -> str:
        """The words with the day they count from."""
        return say("size.since", words=self.text, day=short(self.since))


@dataclass(frozen=True, slots=True)
class Sizes:
    """Newest and first size, and the change between them and since the last one before."""

    size: Size | None = None
    first: Size | None = None
    since_first: Change | None = None
    since_last: Change | None = None


def sizes(entries: Iterable[EntryView], course: Course) -> Sizes:
    """Return newest and first size out of the entries of one episode, oldest first, with the change of their area.

    Only areas by one method are compared (``measures.course``); else the change says "method changed".
    """
    points = {point.visit: point for point in course.points}
    found = [size for entry in entries if (size := _size(entry, points.get(entry.visit.id))) is not None]
    if not found:
        return Sizes()
    first, newest = found[0], found[-1]
    if len(found) == 1:
        return Sizes(newest, first)
    return Sizes(newest, first, _change(first, newest, course), _change(found[-2], newest, course))


def _size(entry: EntryView, point: Point | None) -> Size | None:
    assessment = catalogue().groups["assessment"]
    answers = {key: entry.answer(f"assessment.{key}") for key in SIZES}
    shown = {key: words(assessment[key], answer) for key, answer in answers.items() if known(answer)}
    if not shown.keys() - {"depth"}:
        return None
    parts = [say(f"size.{key}", words=text) for key, text in shown.items()]
    if {"length", "width"} <= shown.keys():
        parts[:2] = [say("size.plane", length=shown["length"], width=shown["width"])]
    return Size(entry.at, ", ".join(parts), point)


def _change(earlier: Size, now: Size, course: Course) -> Change:
    """The change of area, unless the order in time of the two measurements is not certain."""
    one, other = earlier.point, now.point
    if one is None or other is None:
        return Change(earlier.at, None, say("size.no_plain"))
    if not (one.certain and other.certain):
        return Change(earlier.at, None, say("size.order"))
    if one.way == other.way:
        percent = compared(one, other)[0]
        return Change(earlier.at, percent, "" if percent is not None else say("size.from_zero"))
    start = course.stretch[0]
    if start.visit == other.visit or course.since_first is None:
        return Change(earlier.at, None, say("size.method"))
    return Change(earlier.at, None, say("size.method_since", words=Change(start.at, course.since_first).dated))
