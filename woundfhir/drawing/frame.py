"""Where days and areas lie on the paper of the trend chart."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal

from woundfhir.drawing.axis import date_ticks, round_step
from woundfhir.drawing.svg import XY, Drawing
from woundfhir.language import decimal_mark
from woundfhir.measures.courses import Course, Threshold
from woundfhir.record import dates

LEFT, RIGHT, TOP, BOTTOM = 58.0, 84.0, 58.0, 40.0
#: A date ahead is drawn only where it lengthens the axis by no more than half, or by eight weeks.
_AHEAD_DAYS = 56


class Frame:
    """The scales of one chart.

    Parameters
    ----------
    course
        With at least one point.
    width, height
        Of the chart without its legend, in pixels.
    """

    def __init__(self, course: Course, width: float, height: float) -> None:
        self.right, self.bottom = width - RIGHT, height - BOTTOM
        self.first = course.points[0].day
        newest = course.points[-1].day
        span = (newest - self.first).days
        latest = newest + timedelta(days=min(max(_AHEAD_DAYS, span // 2), (date.max - newest).days))
        self.review = dates.day(course.next_full_assessment)
        if self.review is not None and not self.first <= self.review <= latest:
            self.review = None
        #: The day of each cut-off, in their order.
        self.due = [due(course, cut) for cut, _ in course.thresholds]
        ahead = [day for day in (*self.due, self.review) if day is not None and day <= latest]
        self.last = max([newest, *ahead])
        self.days = max((self.last - self.first).days, 1)
        #: Whether each cut-off has room: its day lies on the axis, and its level is longer than a mark.
        self.drawn = [
            day is not None and day <= self.last and self.x(day) - self.x(course.stretch[0].day) >= 24
            for day in self.due
        ]
        highest = max(float(point.area) for point in course.points)
        self.step = round_step(highest)
        self.top = self.step * max(1, -int(-highest // self.step))

    def x(self, day: date) -> float:
        """The place of a day, from the left."""
        return LEFT + (self.right - LEFT) * (day - self.first).days / self.days

    def y(self, area: Decimal | float) -> float:
        """The place of an area, from the top."""
        return self.bottom - (self.bottom - TOP) * float(area) / self.top

    def axes(self, drawing: Drawing) -> None:
        """Draw both axes with their steps."""
        drawing.text((LEFT - 9, TOP - 12), "cm\u00b2", size=12, anchor="end")
        for index in range(round(self.top / self.step) + 1):
            y = self.y(self.step * index)
            if index:
                drawing.line((LEFT, y), (self.right, y), width=0.4, dash="1 4")
            drawing.line((LEFT - 5, y), (LEFT, y))
            drawing.text((LEFT - 9, y + 4), decimal_mark(f"{self.step * index:g}"), size=12, anchor="end")
        drawing.line((LEFT, TOP), (LEFT, self.bottom), width=1.5)
        drawing.line((LEFT, self.bottom), (self.right, self.bottom), width=1.5)
        for day, words in date_ticks(self.first, self.last, max(2, int((self.right - LEFT) / 74))):
            drawing.line((self.x(day), self.bottom), (self.x(day), self.bottom + 6))
            drawing.text((self.x(day), self.bottom + 20), words, size=11, anchor="middle")


def due(course: Course, cut: Threshold) -> date | None:
    """The day at which a cut-off is judged, counted from the first size that is compared."""
    if not course.stretch or not course.stretch[0].area:
        return None
    try:
        return course.stretch[0].day + timedelta(weeks=cut.weeks)
    except OverflowError:
        return None


def thinned(spots: Sequence[XY]) -> list[XY]:
    """Return a line with at most four spots for each pixel of width: first, lowest, highest, last. It looks the same.

    Examples
    --------
    >>> thinned([(0.0, 1.0), (0.1, 9.0), (0.2, 5.0), (0.3, 0.0), (0.4, 2.0), (3.0, 3.0)])
    [(0.0, 1.0), (0.1, 9.0), (0.3, 0.0), (0.4, 2.0), (3.0, 3.0)]
    """
    kept: list[XY] = []
    start = 0
    while start < len(spots):
        end = start + 1
        while end < len(spots) and int(spots[end][0]) == int(spots[start][0]):
            end += 1
        column = range(start, end)
        low, high = min(column, key=lambda i: spots[i][1]), max(column, key=lambda i: spots[i][1])
        kept += [spots[i] for i in sorted({start, low, high, end - 1})]
        start = end
    return kept
