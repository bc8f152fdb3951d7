"""A course in plain words: what a drawing says to those who cannot see it, and what a narrative may hold."""

from __future__ import annotations

from collections import Counter

from woundfhir.measures.courses import Course, Threshold
from woundfhir.measures.points import Point
from woundfhir.measures.rounding import area_text, percent_text
from woundfhir.measures.texts import say


def cut_off_text(cut: Threshold, reached: bool | None, missed: str | None = None) -> str:
    """Return a cut-off and whether it was reached, without its source; ``missed`` says in other words that it was not.

    Examples
    --------
    >>> from decimal import Decimal
    >>> cut_off_text(Threshold(Decimal(50), 4, "a source"), None)
    '50 % smaller at 4 weeks: no measurement to compare'
    """
    state = say({True: "measures.reached", False: "measures.not_reached", None: "measures.no_measurement"}[reached])
    if reached is False and missed is not None:
        state = missed
    return say("measures.cut_off", percent=f"{cut.percent:f}", weeks=cut.weeks, state=state)


def size_text(point: Point) -> str:
    """Return the area of a measurement for a reader.

    Examples
    --------
    >>> from woundfhir.measures import Measured, trend
    >>> [size_text(trend([Measured("2026-03-02", *sides)]).points[0]) for sides in (("1.5 [in_i]", "1.0 [in_i]"),)]
    ['9.7 cm²']
    """
    return area_text(point.area, point.area_digits)


def summary(course: Course) -> str:
    """Return how many measurements there are, from when to when, and the change over those of one way.

    Examples
    --------
    >>> from woundfhir.measures import Measured, trend
    >>> summary(trend([Measured("2026-03-02", "4.0 cm", "3.0 cm")]))
    '1 measurement, 2026-03-02 (12.0 cm²).'
    """
    if not course.points:
        return say("measures.none")
    first, last = course.points[0], course.points[-1]
    if len(course.points) == 1:
        return say("measures.one", day=first.date, size=size_text(first))
    slots = {"first": first.date, "first_size": size_text(first), "last": last.date, "last_size": size_text(last)}
    words = say("measures.many", number=len(course.points), **slots)
    if course.since_first is not None:
        change = percent_text(course.since_first)
        words += f" {say('measures.since', day=course.stretch[0].date, change=change)}"
    return words


def described(course: Course) -> str:
    """Return a course in a few sentences, for those who cannot see its chart.

    Examples
    --------
    >>> described(Course())
    'No measurements.'
    """
    words = [summary(course)]
    words += [
        say("measures.counted", words=f"{reason[0].upper()}{reason[1:]}", number=count)
        for reason, count in _reasons(course).items()
    ]
    if course.larger:
        words.append(say("measures.larger_than_before", number=len(course.larger)))
    words += [
        say("measures.cut_off_source", words=cut_off_text(cut, reached), source=cut.source)
        for cut, reached in course.thresholds
        if course.points
    ]
    if course.next_full_assessment:
        words.append(say("measures.next_full", day=course.next_full_assessment))
    return " ".join(words)


def _reasons(course: Course) -> Counter[str]:
    return Counter(one.reason for one in course.breaks)
