"""The trend chart: area against date, with breaks, published cut-offs and the next full assessment."""

from __future__ import annotations

import math
from datetime import date, timedelta
from decimal import Decimal

from woundfhir.drawing.svg import Drawing
from woundfhir.measures.course import Break, Course, Point
from woundfhir.record import dates

_LEFT, _RIGHT, _TOP, _BOTTOM = 64.0, 24.0, 46.0, 62.0
_FEW = 60


def trend_chart(course: Course, *, title: str = "Wound area", width: float = 720, height: float = 400) -> bytes:
    """Draw the course of one wound.

    Parameters
    ----------
    course
        From ``woundfhir.measures.course``.
    title
        Heading of the chart.
    width, height
        In CSS pixels.

    Returns
    -------
    bytes
        SVG: areas as a line with dots, each way of measuring its own line style; breaks as numbered dashed
        uprights explained below; cut-offs as dotted levels; the next full assessment as a dash-dot upright.
    """
    legend = _legend(course)
    full = height + 18 * len(legend)
    drawing = Drawing(width, full, title, _describe(course))
    drawing.add("rect", x=0, y=0, width=width, height=full, fill="#fff")
    drawing.text(_LEFT, 24, title, size=17, bold=True)
    if not course.points:
        drawing.text(_LEFT, 70, "No measurement of length and width, or area, that can be drawn.")
        return drawing.bytes()
    frame = _Frame(course, width, height)
    _axes(drawing, frame)
    _levels(drawing, frame, course)
    _breaks(drawing, frame, course)
    _review(drawing, frame, course)
    _lines(drawing, frame, course)
    for index, line in enumerate(legend):
        drawing.text(_LEFT, height + 6 + 18 * index, line, size=12)
    return drawing.bytes()


class _Frame:
    """Where days and areas lie on the paper."""

    def __init__(self, course: Course, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.first = course.points[0].day
        last = course.points[-1].day
        review = dates.day(course.next_full_assessment)
        if review is not None and last < review <= last + timedelta(days=max(28, (last - self.first).days)):
            last = review
        self.days = max((last - self.first).days, 1)
        self.step, self.top = _steps(max(float(p.area) for p in course.points))

    def x(self, day: date) -> float:
        return _LEFT + (self.width - _LEFT - _RIGHT) * (day - self.first).days / self.days

    def y(self, area: Decimal | float) -> float:
        return self.height - _BOTTOM - (self.height - _TOP - _BOTTOM) * float(area) / self.top


def _steps(highest: float) -> tuple[float, float]:
    """A round step and a round top for an axis from zero."""
    if highest <= 0:
        return 0.5, 1.0
    raw = highest / 5
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(size * n for n in (1, 2, 2.5, 5, 10) if size * n >= raw)
    return step, step * math.ceil(highest / step)


def _axes(drawing: Drawing, frame: _Frame) -> None:
    bottom = frame.height - _BOTTOM
    drawing.line(_LEFT, _TOP, _LEFT, bottom, width=1.5)
    drawing.line(_LEFT, bottom, frame.width - _RIGHT, bottom, width=1.5)
    drawing.text(_LEFT - 8, _TOP - 8, "cm\u00b2", size=12, anchor="end")
    for index in range(round(frame.top / frame.step) + 1):
        value = frame.step * index
        drawing.line(_LEFT - 5, frame.y(value), _LEFT, frame.y(value))
        drawing.text(_LEFT - 9, frame.y(value) + 4, f"{value:g}", size=12, anchor="end")
    count = min(6, frame.days)
    marks = sorted({round(frame.days * i / count) for i in range(count + 1)})
    for index, mark in enumerate(marks):
        day = frame.first + timedelta(days=mark)
        drawing.line(frame.x(day), bottom, frame.x(day), bottom + 5)
        anchor = "start" if index == 0 else "end" if index == len(marks) - 1 else "middle"
        drawing.text(frame.x(day), bottom + 20, day.isoformat(), size=11, anchor=anchor)


def _runs(points: tuple[Point, ...]) -> list[list[Point]]:
    runs: list[list[Point]] = []
    for point in points:
        if runs and runs[-1][-1].way == point.way:
            runs[-1].append(point)
        else:
            runs.append([point])
    return runs


def _lines(drawing: Drawing, frame: _Frame, course: Course) -> None:
    styles = ("", "8 4", "3 3", "10 3 3 3")
    few = len(course.points) <= _FEW
    for index, run in enumerate(_runs(course.points)):
        spots = [(frame.x(p.day), frame.y(p.area)) for p in run]
        if len(spots) > 1:
            drawing.path(spots, width=2 if few else 1.2, dash=styles[index % len(styles)])
        for x, y in spots if few else (spots[0], spots[-1]):
            drawing.add(
                "circle", cx=x, cy=y, r=4, fill="#fff" if index % 2 else "#000", stroke="#000", stroke_width=1.5
            )
    last = course.points[-1]
    x, y = frame.x(last.day), frame.y(last.area)
    end = x > frame.width - _RIGHT - 70
    drawing.text(
        x + (-8 if end else 8),
        max(y - 9, _TOP + 12),
        f"{last.area.normalize():f} cm\u00b2",
        size=13,
        anchor="end" if end else "start",
        bold=True,
    )


def _levels(drawing: Drawing, frame: _Frame, course: Course) -> None:
    if not course.stretch:
        return
    first = course.stretch[0]
    for threshold, _ in course.thresholds:
        level = first.area * (100 - threshold.percent) / 100
        start = first.day + timedelta(weeks=threshold.weeks)
        if level > 0 and frame.x(start) < frame.width - _RIGHT:
            drawing.line(frame.x(start), frame.y(level), frame.width - _RIGHT, frame.y(level), dash="2 4", width=1.2)
            drawing.text(
                frame.width - _RIGHT,
                frame.y(level) - 4,
                f"{threshold.percent:f} % smaller at {threshold.weeks} weeks",
                size=11,
                anchor="end",
            )


def _breaks(drawing: Drawing, frame: _Frame, course: Course) -> None:
    days = {p.visit: p.day for p in course.points}
    shown = _numbered(course.breaks)
    for number, (visit, _) in enumerate(shown, 1):
        x = frame.x(days[visit])
        drawing.line(x, _TOP, x, frame.height - _BOTTOM, dash="5 4", width=0.8)
        drawing.text(x, _TOP - 4, str(number), size=11, anchor="middle")


def _numbered(breaks: tuple[Break, ...]) -> list[tuple[str, str]]:
    """Breaks by visit, at most twelve are drawn."""
    found: dict[str, list[str]] = {}
    for one in breaks:
        found.setdefault(one.before, []).append(one.reason)
    return [(visit, "; ".join(reasons)) for visit, reasons in list(found.items())[:12]]


def _review(drawing: Drawing, frame: _Frame, course: Course) -> None:
    day = dates.day(course.next_full_assessment)
    if day is None or not frame.first < day <= frame.first + timedelta(days=frame.days):
        return
    x = frame.x(day)
    drawing.line(x, _TOP, x, frame.height - _BOTTOM, dash="8 3 2 3", width=1)
    drawing.text(x - 4, frame.height - _BOTTOM - 8, "next full assessment", size=11, anchor="end")


def _legend(course: Course) -> list[str]:
    lines = [f"{number}: {reason}" for number, (_, reason) in enumerate(_numbered(course.breaks), 1)]
    if len({p.way for p in course.points}) == 1:
        lines.append(f"Measured: {course.points[0].way}.")
    lines += [f"Cut-off: {threshold.source}" for threshold, _ in course.thresholds]
    return lines


def _describe(course: Course) -> str:
    if not course.points:
        return "No measurements."
    first, last = course.points[0], course.points[-1]
    ends = [f"{point.day} ({point.area.normalize():f} square centimetres)" for point in (first, last)]
    words = f"{len(course.points)} measurements from {ends[0]} to {ends[1]}."
    if course.since_first is not None:
        words += f" Change over the newest stretch measured in one way: {course.since_first:.0f} per cent."
    return words
