"""When an action was: before what it should answer, or after the note that holds it."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import Any

from woundfhir.chart.views import EntryView, RecordView, VisitView
from woundfhir.record import dates


def out_of_time(record: RecordView, entry: EntryView, when: str, since: VisitView, onset: Any) -> str:
    """Whether an action lies before what it should answer, or after the note that holds it."""
    visit = entry.visit
    if since.day is None or visit.day is None:
        return "no_day"
    minutes = int(record.limit("action.before_minutes"))
    begun = onset if dates.day(onset) is not None and _before(onset, since.at or "") else since.at or ""
    if _before(when, begun, timedelta(minutes=minutes)):
        return "early"
    at = visit.at or ""
    end = f"{at[:10]}T23:59:59{offset(at)}" if len(at) > 10 else at
    limit = visit.written_at if visit.written_at and dates.day(visit.written_at) else ""
    return "late" if _before(max((end, limit), key=_sortable), when) else ""


def _sortable(text: str) -> tuple[date, str]:
    return dates.day(text) or date.min, text


def _before(one: str, other: str, slack: timedelta = timedelta()) -> bool:
    """Whether one time lies before another: instants to the minute, others by the day as written."""
    first, second = dates.moment(one), dates.moment(other)
    if len(one) > 10 and len(other) > 10 and first is not None and second is not None and _alike(first, second):
        return first < second - slack
    return (dates.day(one) or date.max) < (dates.day(other) or date.min)


def _alike(one: datetime, other: datetime) -> bool:
    return (one.tzinfo is None) == (other.tzinfo is None)


def offset(at: str) -> str:
    """Return the offset from UTC that a time is written with, or nothing."""
    found = re.search(r"(?:Z|[+-]\d\d:\d\d)$", at[10:])
    return found[0] if found else ""
