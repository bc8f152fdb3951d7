"""A course in plain words: what a drawing says to those who cannot see it, and what a narrative may hold."""

from __future__ import annotations

from collections import Counter
from decimal import ROUND_HALF_UP, Context, Decimal

from woundfhir.measures.trend import Course, Threshold

_TENTH, _HUNDREDTH = Decimal("0.1"), Decimal("0.01")
#: Wide enough for any size that a record can hold, and its own: the caller's decimal context changes no word.
_WIDE = Context(prec=80, rounding=ROUND_HALF_UP)


def area_text(area: Decimal) -> str:
    """Return an area for a reader, to a tenth from 10 cm2 on and to a hundredth below, half up.

    Examples
    --------
    >>> area_text(Decimal("20.8000")), area_text(Decimal("0.245")), area_text(Decimal(0))
    ('20.8 cm²', '0.25 cm²', '0 cm²')
    """
    if not area:
        return "0 cm\u00b2"
    return f"{area.quantize(_TENTH if area >= 10 else _HUNDREDTH, context=_WIDE):f} cm\u00b2"


def percent_text(change: Decimal | None) -> str:
    """Return a change for a reader, to whole per cent, half up; never "unchanged" for what has changed.

    Examples
    --------
    >>> percent_text(Decimal("-68.5")), percent_text(Decimal("0.2")), percent_text(Decimal(0)), percent_text(None)
    ('69 % smaller', 'less than 1 % larger', 'unchanged', 'not to be had')
    """
    if change is None:
        return "not to be had"
    if not change:
        return "unchanged"
    way = "smaller" if change < 0 else "larger"
    size = abs(change)
    return f"{size.quantize(Decimal(1), context=_WIDE):f} % {way}" if size >= 1 else f"less than 1 % {way}"


def cut_off_text(cut: Threshold, reached: bool | None) -> str:
    """Return a cut-off and whether it was reached, without its source.

    Examples
    --------
    >>> cut_off_text(Threshold(Decimal(50), 4, "a source"), None)
    '50 % smaller at 4 weeks: not yet to be told'
    """
    state = {True: "reached", False: "not reached", None: "not yet to be told"}[reached]
    return f"{cut.percent:f} % smaller at {cut.weeks} weeks: {state}"


def summary(course: Course) -> str:
    """Return how many measurements there are, from when to when, and the change over those of one way.

    Examples
    --------
    >>> from woundfhir.measures import Measured, trend
    >>> summary(trend([Measured("2026-03-02", "4.0 cm", "3.0 cm")]))
    '1 measurement, 2026-03-02 (12.0 cm²).'
    """
    if not course.points:
        return "No measurements."
    first, last = course.points[0], course.points[-1]
    if len(course.points) == 1:
        return f"1 measurement, {first.date} ({area_text(first.area)})."
    words = f"{len(course.points)} measurements, {first.date} ({area_text(first.area)}) to"
    words += f" {last.date} ({area_text(last.area)})."
    if course.since_first is not None:
        words += f" Since {course.stretch[0].date}, measured in one way: {percent_text(course.since_first)}."
    return words


def described(course: Course) -> str:
    """Return a course in a few sentences, for those who cannot see its chart.

    Examples
    --------
    >>> described(Course())
    'No measurements.'
    """
    words = [summary(course)]
    words += [f"{reason[0].upper()}{reason[1:]}: {count}." for reason, count in _reasons(course).items()]
    if course.larger:
        words.append(f"Larger than the one before: {len(course.larger)}.")
    words += [
        f"{cut_off_text(cut, reached)} (source: {cut.source})." for cut, reached in course.thresholds if course.points
    ]
    if course.next_full_assessment:
        words.append(f"Next full assessment {course.next_full_assessment}.")
    return " ".join(words)


def _reasons(course: Course) -> Counter[str]:
    return Counter(one.reason for one in course.breaks)
