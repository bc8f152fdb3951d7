"""The trend chart: area against date, with breaks, published cut-offs and the next full assessment."""

from __future__ import annotations

from collections.abc import Sequence

from woundfhir.drawing.frame import LEFT, TOP, Frame, thinned
from woundfhir.drawing.legend import FEW, GAP_DASH, LEVEL_DASH, REVIEW_DASH, Legend, kinds, ways
from woundfhir.drawing.svg import Drawing, wrapped
from woundfhir.drawing.texts import say
from woundfhir.measures.courses import Course
from woundfhir.measures.points import Point
from woundfhir.measures.words import described, size_text


def trend_chart(course: Course, *, title: str = "", width: float = 720, height: float = 400) -> bytes:
    """Draw the course of one wound.

    Parameters
    ----------
    course
        From ``woundfhir.measures.trend`` or ``woundfhir.measures.course``.
    title
        Heading of the chart; "Wound area" where there is none.
    width, height
        In CSS pixels, at least 320 by 200; the legend stands below and adds to the height.

    Returns
    -------
    bytes
        SVG. Each way of measuring has its own mark and dash. A triangle above says that something was done in
        between that changes the size, a diamond with an upright that another way of measuring begins, a ring with an
        upright that the wound had closed and is open again, a dotted stretch that there is a gap. A cut-off is a
        dotted level that ends at the day on which it is judged.

    Examples
    --------
    >>> from woundfhir.measures import Measured, trend
    >>> drawn = trend_chart(trend([Measured("2026-03-02", "4.0 cm", "3.0 cm")]), title="W1")
    >>> drawn[:4], b"<title>W1</title>" in drawn, b"<script" in drawn
    (b'<svg', True, False)
    """
    title = title or say("chart.title")
    width, height = max(width, 320.0), max(height, 200.0)
    if not course.points:
        drawing = Drawing(width, 90, title, described(course))
        drawing.text((LEFT, 24), wrapped(title, 16, width - LEFT, most=1)[0], size=16, bold=True)
        drawing.text((LEFT, 58), say("chart.nothing"))
        return drawing.bytes()
    frame = Frame(course, width, height)
    legend = Legend(course, frame, width)
    drawing = Drawing(width, height + 12 + legend.height, title, described(course))
    drawing.text((LEFT, 22), wrapped(title, 16, width - LEFT, most=1)[0], size=16, bold=True)
    frame.axes(drawing)
    _breaks(drawing, frame, course)
    _review(drawing, frame)
    _lines(drawing, frame, course)
    _levels(drawing, frame, course, [_newest(drawing, frame, course)])
    legend.draw(drawing, height + 8)
    return drawing.bytes()


def _lines(drawing: Drawing, frame: Frame, course: Course) -> None:
    marks, breaks = ways(course.points), kinds(course)
    few = len(course.points) <= FEW
    runs: list[list[Point]] = []
    for point in course.points:
        here = breaks.get(point.visit, set())
        if not runs or here & {"method", "closure", "gap"}:
            if runs and not here & {"method", "closure"}:
                pair = [(frame.x(p.day), frame.y(p.area)) for p in (runs[-1][-1], point)]
                drawing.path(pair, width=1, dash=GAP_DASH)
            runs.append([])
        runs[-1].append(point)
    for run in runs:
        mark, dash = marks[run[0].way]
        spots = [(frame.x(p.day), frame.y(p.area)) for p in run]
        if len(spots) > 1:
            drawing.path(thinned(spots), width=2 if few else 1.2, dash=dash)
        for spot in spots if few else [spots[0], *spots[-1:]]:
            drawing.mark(mark, spot, 3.8 if few else 3)
    for index in course.larger if few else ():
        point = course.points[index]
        drawing.mark("up", (frame.x(point.day), max(frame.y(point.area) - 12, TOP - 6)), 3.6)


def _newest(drawing: Drawing, frame: Frame, course: Course) -> float:
    """Write the newest area to the right of its point, where no line runs; return its height."""
    newest = course.points[-1]
    x, y = frame.x(newest.day), frame.y(newest.area) + 4.5
    drawing.label((x + 9, y), size_text(newest), size=13, bold=True)
    return y


def _levels(drawing: Drawing, frame: Frame, course: Course, taken: list[float]) -> None:
    """Draw the cut-offs; their words go beside the end of the level, below each other where they would meet."""
    for (cut, _), day, drawn in zip(course.thresholds, frame.due, frame.drawn, strict=True):
        if day is None or not drawn:
            continue
        start = course.stretch[0]
        level = frame.y(float(start.area) * (100 - float(cut.percent)) / 100)
        end = frame.x(day)
        drawing.line((frame.x(start.day), level), (end, level), width=1.2, dash=LEVEL_DASH)
        drawing.line((end, level - 6), (end, level + 6), width=1.5)
        y = _free(level + 4, taken, frame.bottom - 2)
        taken.append(y)
        drawing.label((end + 6, y), say("chart.level", percent=f"{cut.percent:f}"))


def _free(wanted: float, taken: Sequence[float], lowest: float) -> float:
    """The height nearest to one that is wanted at which a line of text meets none of those taken."""
    steps = (wanted + way * 2 * n for n in range(200) for way in (1, -1))
    good = (y for y in steps if TOP <= y <= lowest and all(abs(y - other) >= 14 for other in taken))
    return next(good, wanted)


def _breaks(drawing: Drawing, frame: Frame, course: Course) -> None:
    breaks = kinds(course)
    for point in course.points:
        x, here = frame.x(point.day), breaks.get(point.visit, ())
        height = TOP - 12
        for kind, mark in (("method", "diamond"), ("closure", "ring"), ("event", "down")):
            if kind not in here:
                continue
            if kind != "event":
                drawing.line((x, height), (x, frame.bottom), width=0.9)
            drawing.mark(mark, (x, height), 4)
            height -= 12


def _review(drawing: Drawing, frame: Frame) -> None:
    if frame.review is not None:
        x = frame.x(frame.review)
        drawing.line((x, TOP - 6), (x, frame.bottom), dash=REVIEW_DASH)
