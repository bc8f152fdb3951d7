"""Drawings where no SVG may stand: a course as a table, with bars of block characters.

R4 (4.0.1), Narrative, rule txt-1: HTML 4 text, tables, lists, links, style attributes and images; no ``svg`` element,
no script, no object. A table and sentences (``trend_rows``, ``clock_words``) always fit there, and can be read aloud,
copied and searched.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from woundfhir.drawing.spark import bar
from woundfhir.drawing.texts import say
from woundfhir.measures.courses import Course
from woundfhir.measures.points import Point, compared
from woundfhir.measures.rounding import length_text, percent_text
from woundfhir.measures.words import size_text

_HEAD = ("date", "length", "width", "depth", "area", "since", "between")


def trend_rows(
    course: Course, *, most: int = 60, ascii_only: bool = False
) -> tuple[Sequence[str], list[Sequence[str]]]:
    """Return the course of a wound as the head and the rows of a table, with bars of block characters.

    Parameters
    ----------
    course
        From ``woundfhir.measures.trend`` or ``woundfhir.measures.course``.
    most
        The most measurements, at least 2: of a longer series the first and the newest stand, with a row between
        that says how many are left out.
    ascii_only
        Bars of ``#``.

    Returns
    -------
    tuple
        Head and rows, all text. A change stands only between sizes that were measured in one way.

    Examples
    --------
    >>> from woundfhir.measures import Measured, trend
    >>> made = trend([Measured("2026-03-02", "4.0 cm", "3.0 cm"), Measured("2026-03-09", "3.0 cm", "3.0 cm")])
    >>> trend_rows(made, ascii_only=True)[1][1]
    ('2026-03-09', '3.0', '3.0', '', '9.00 cm²', '25 % smaller', '', '###############')
    """
    reasons: dict[str, list[str]] = {}
    for one in course.breaks:
        reasons.setdefault(one.before, []).append(one.reason)
    top = max((point.area for point in course.points), default=Decimal(0))
    before: dict[str, Point] = {}
    rows: list[Sequence[str]] = []
    for point in course.points:
        sides = [length_text(value, digits) for value, digits in point.sides]
        between = "; ".join(reasons.get(point.visit, ()))
        drawn = bar(point.area, top, ascii_only=ascii_only)
        rows.append(
            (point.date.isoformat(), *sides, size_text(point), _since(before.get(point.way), point), between, drawn)
        )
        before[point.way] = point
    left_out = len(rows) - max(most, 2)
    if left_out > 0:
        rows[1 : left_out + 1] = [("\u2026", "", "", "", "", "", say("table.left_out", number=left_out), "")]
    return (*(say(f"table.{key}") for key in _HEAD), ""), rows


def _since(last: Point | None, now: Point) -> str:
    if last is None:
        return ""
    percent, why = compared(last, now)
    return why if percent is None else percent_text(percent)
