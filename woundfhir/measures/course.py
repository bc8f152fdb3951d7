"""The course of one wound out of a record: which notes count, and what they say of its size."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from woundfhir.catalogue import catalogue
from woundfhir.chart import EntryView, open_record
from woundfhir.chart.notes import Whole
from woundfhir.measures.courses import Break, Course, Segment, Threshold
from woundfhir.measures.points import Measured, Point, Remark
from woundfhir.measures.texts import say
from woundfhir.measures.trend import trend
from woundfhir.record import History

__all__ = ["Break", "Course", "Point", "Remark", "Segment", "Threshold", "course"]


def course(
    history: History | Whole, wound_id: str, *, gap_days: int = 14, thresholds: Iterable[Threshold] = ()
) -> Course:
    """Return the course of one wound.

    Parameters
    ----------
    history
        One client's record, or the view of it that is open already. Drafts, replaced notes and notes entered in error
        are left out; no change is computed across a closure.
    wound_id
        Id of the wound.
    gap_days
        A longer time between two measurements is marked.
    thresholds
        Published cut-offs to hold the change against, from the policy in force.

    Returns
    -------
    Course

    Examples
    --------
    >>> def seen(day, length): return {"id": day, "at": day, "status": "final", "wounds": [
    ...     {"wound": "W1", "assessment": {"length": length, "width": "2.0 cm"}}]}
    >>> h = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}],
    ...     "visits": [seen("2026-03-01", "4.0 cm"), seen("2026-03-08", "3.0 cm")]})
    >>> course(h, "W1").since_first
    Decimal('-25.00')
    """
    record = open_record(history) if isinstance(history, History) else history
    view = record.find_wound(wound_id)
    if view is None:
        return trend((), wound=wound_id)
    measurements = [_measured(entry, number) for number, episode in enumerate(view.episodes) for entry in episode]
    found = trend(
        measurements,
        wound=wound_id,
        gap_days=gap_days,
        thresholds=thresholds,
        spellings=catalogue().units,
        next_change=_text(view.planned("next_change"), "plan.next_change"),
        next_full_assessment=_text(view.series.newest_with("plan.next_full_assessment"), "plan.next_full_assessment"),
    )
    return replace(found, remarks=(*_unsorted(view.entries), *found.remarks))


def courses(history: History) -> dict[str, Course]:
    """Return the course of every wound by its id; the record is opened once."""
    record = open_record(history)
    return {wound.id: course(record, wound.id) for wound in record.wounds}


def _unsorted(entries: Sequence[EntryView]) -> Iterator[Remark]:
    for place, (before, one) in enumerate(pairwise(entries), 1):
        if one.visit.index < before.visit.index:
            yield Remark("unsorted", say("remark.unsorted"), one.visit.id, place)
            return


def _measured(entry: EntryView, episode: int) -> Measured:
    method = _way(entry, "assessment.measure_method") or say("measures.method_missing")
    axis = _way(entry, "assessment.measure_axis") or say("measures.axes_missing")
    return Measured(
        at=entry.visit.at or "",
        length=_text(entry, "assessment.length"),
        width=_text(entry, "assessment.width"),
        depth=_text(entry, "assessment.depth"),
        area=_text(entry, "assessment.area"),
        method=f"{method}, {axis}",
        events=(say("why.debrided"),) if _debrided(entry) else (),
        visit=entry.visit.id,
        when=entry.visit.when,
        episode=episode,
    )


def _way(entry: EntryView, path: str) -> str | None:
    """How it was measured, by the word of the list: two spellings of one way are one way."""
    concept, answer = entry.find(path)
    found = concept.answers.find(answer) if concept.answers else None
    return found.shown if found else _text(entry, path)


def _debrided(entry: EntryView) -> bool:
    return any("sharp" in item.tags("kind") for item in entry.items("care.debridement"))


def _text(entry: EntryView | None, path: str) -> str | None:
    found = None if entry is None else entry.answer(path)
    return found if isinstance(found, str) else None
