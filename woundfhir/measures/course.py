"""The course of one wound out of a record: which notes count, and what they say of its size."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from woundfhir.measures.points import Measured, Point, Remark
from woundfhir.measures.trend import Break, Course, Segment, Threshold, trend
from woundfhir.record import History

__all__ = ["Break", "Course", "Point", "Remark", "Segment", "Threshold", "course"]

Json = Any


def course(
    history: History,
    wound_id: str,
    *,
    gap_days: int = 14,
    thresholds: Iterable[Threshold] = (),
    sharp: Callable[[str], bool] = lambda kind: False,
    units: Mapping[str, str] | None = None,
) -> Course:
    """Return the course of one wound.

    Parameters
    ----------
    history
        One client's record; drafts, replaced notes and notes entered in error are left out.
    wound_id
        Id of the wound.
    gap_days
        A longer time between two measurements is marked.
    thresholds
        Published cut-offs to hold the change against, from the policy in force.
    sharp
        Tells whether a kind of debridement takes tissue away at once.
    units
        Spelling -> UCUM code; the catalogue's when left out.

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
    counted = {visit["id"] for visit in history.counted}
    measurements, plans = [], []
    for visit, entry in history.entries(wound_id):
        if visit["id"] not in counted:
            continue
        measurements.append(_measured(visit, entry, sharp))
        if isinstance(entry.get("plan"), dict):
            plans.append((str(visit.get("at", "")), entry["plan"]))
    plans.sort(key=lambda found: found[0])
    return trend(
        measurements,
        wound=wound_id,
        gap_days=gap_days,
        thresholds=thresholds,
        spellings=_units() if units is None else units,
        next_change=_newest(plans, "next_change"),
        next_full_assessment=_newest(plans, "next_full_assessment"),
    )


def _units() -> Mapping[str, str]:
    from woundfhir.catalogue import catalogue

    return catalogue().units


def _measured(visit: Mapping[str, Json], entry: Mapping[str, Json], sharp: Callable[[str], bool]) -> Measured:
    seen = entry.get("assessment", {})
    method = f"{_text(seen, 'measure_method') or 'method not told'}, {_text(seen, 'measure_axis') or 'axes not told'}"
    return Measured(
        at=str(visit.get("at", "")),
        length=_text(seen, "length"),
        width=_text(seen, "width"),
        depth=_text(seen, "depth"),
        area=_text(seen, "area"),
        method=method,
        events=("debrided",) if _debrided(entry.get("care", {}), sharp) else (),
        visit=str(visit["id"]),
    )


def _text(answers: Mapping[str, Json], key: str) -> str | None:
    found = answers.get(key)
    return found if isinstance(found, str) else None


def _debrided(care: Mapping[str, Json], sharp: Callable[[str], bool]) -> bool:
    done = care.get("debridement")
    kinds = [item.get("kind") for item in done if isinstance(item, dict)] if isinstance(done, list) else []
    return any(isinstance(kind, str) and sharp(kind) for kind in kinds)


def _newest(plans: Iterable[tuple[str, Mapping[str, Json]]], key: str) -> str | None:
    found = None
    for _, plan in plans:
        found = plan[key] if isinstance(plan.get(key), str) else found
    return found
