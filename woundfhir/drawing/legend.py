"""The legend of the trend chart: which mark and which dash says what, in the order in which they matter."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from woundfhir.drawing.frame import LEFT, Frame
from woundfhir.drawing.svg import Drawing, wrapped
from woundfhir.drawing.texts import say
from woundfhir.measures.courses import Course
from woundfhir.measures.points import Point
from woundfhir.measures.words import cut_off_text, summary

#: Up to so many points each gets its mark; a longer series is a line with marks at its ends.
FEW = 60
GAP_DASH = "1 5"
REVIEW_DASH = "9 3 2 3"
LEVEL_DASH = "2 3"
#: (mark, dash of the line) of each way of measuring, in the order in which the ways appear.
_WAYS = (("circle", ""), ("square", "7 4"), ("diamond", "2 3"), ("ring", "10 3 2 3"))
_ROW, _SIZE, _INDENT = 17.0, 12.0, 34.0


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the legend: a mark, a dash (empty for a full line, None for no line), and words."""

    words: str
    mark: str = ""
    dash: str | None = None


def ways(points: Sequence[Point]) -> dict[str, tuple[str, str]]:
    """Return way of measuring -> mark and dash."""
    found: dict[str, tuple[str, str]] = {}
    for point in points:
        if point.way not in found:
            found[point.way] = _WAYS[len(found) % len(_WAYS)]
    return found


def kinds(course: Course) -> dict[str, set[str]]:
    """Return visit -> the kinds of break before it."""
    found: dict[str, set[str]] = {}
    for one in course.breaks:
        found.setdefault(one.before, set()).add(one.kind)
    return found


def entries(course: Course, frame: Frame) -> list[Entry]:
    """Return the lines of the legend."""
    found = [Entry(summary(course))]
    found += [Entry(words, mark, dash) for words, (mark, dash) in ways(course.points).items()]
    found += _of_breaks(course)
    if course.larger:
        words = _times(say("chart.larger"), len(course.larger))
        found.append(Entry(words, "up" if len(course.points) <= FEW else ""))
    for (cut, reached), drawn in zip(course.thresholds, frame.drawn, strict=True):
        words = say("chart.source", words=cut_off_text(cut, reached), source=cut.source)
        found.append(Entry(words, dash=LEVEL_DASH if drawn else None))
    if frame.review is not None:
        found.append(Entry(say("chart.next_full", day=frame.review), dash=REVIEW_DASH))
    elif course.next_full_assessment:
        found.append(Entry(say("chart.next_full", day=course.next_full_assessment)))
    return found


def _times(words: str, count: int) -> str:
    return words if count == 1 else say("chart.times", words=words, number=count)


def _of_breaks(course: Course) -> list[Entry]:
    here = kinds(course)
    counts = Counter((one.kind, one.reason) for one in course.breaks)
    dotted = any(not here[one.before] & {"method", "closure"} for one in course.breaks if one.kind == "gap")
    found = []
    for (kind, reason), count in counts.items():
        words = _times(reason, count)
        if kind in ("method", "closure"):
            mark = "diamond" if kind == "method" else "ring"
            found.append(Entry(say("chart.not_compared", words=words), mark))
        elif kind == "gap":
            found.append(Entry(words, dash=GAP_DASH if dotted else None))
        else:
            found.append(Entry(words, "down"))
    return found


class Legend:
    """The lines of a legend, wrapped to the width of the paper."""

    def __init__(self, course: Course, frame: Frame, width: float) -> None:
        room = width - LEFT - _INDENT - 8
        self.lines = [(entry, wrapped(entry.words, _SIZE, room, most=4)) for entry in entries(course, frame)]
        self.height = _ROW * sum(len(lines) for _, lines in self.lines)

    def draw(self, drawing: Drawing, y: float) -> None:
        """Draw the legend below a height."""
        for entry, lines in self.lines:
            if entry.dash is not None:
                drawing.line((LEFT - 4, y - 4), (LEFT + 24, y - 4), width=1.6, dash=entry.dash)
            if entry.mark:
                drawing.mark(entry.mark, (LEFT + 10, y - 4), 4)
            for line in lines:
                drawing.text((LEFT + _INDENT, y), line, size=_SIZE)
                y += _ROW
