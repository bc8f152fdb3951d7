"""The course of a wound under a policy, and its pictures: what the trend command, the sheet and the document share."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.chart import open_record
from woundfhir.chart.notes import Whole
from woundfhir.checklist.policy import load
from woundfhir.collector import resting
from woundfhir.drawing import clock_face, trend_chart
from woundfhir.handover.texts import say
from woundfhir.measures.course import Course, Threshold, course
from woundfhir.record import History
from woundfhir.record.shapes import words
from woundfhir.record.spoken import placed

Json = Any


@resting()
def course_of(history: History | Whole, wound_id: str, policy: str | None = None) -> Course:
    """Return the course of a wound with the cut-offs that a policy names for its kind.

    Parameters
    ----------
    history
        The record, or the view of it that is open already.
    wound_id
        Id of the wound.
    policy
        Name or file of a policy; the one that holds where it is left out.

    Raises
    ------
    InputError
        For an unknown policy.
    """
    table = load(policy)
    record = open_record(history) if isinstance(history, History) else history
    tags = record.wound(wound_id).tags("wound.kind")
    weeks = table.days("course.weeks")
    thresholds = [Threshold(table.number(key), weeks, table.source(key)) for tag, key in _CUT_OFFS if tag in tags]
    return course(record, wound_id, gap_days=table.days("course.silent_days"), thresholds=thresholds)


def called(wound: Mapping[str, Json], between: str = " ") -> str:
    """Return kind, side and site of a wound."""
    group = catalogue().groups["wound"]
    kind = words(group["kind"], wound["kind"]) if isinstance(wound.get("kind"), str) else ""
    return between.join(part for part in (kind, placed(wound.get("side"), wound.get("site"))) if part)


#: Tag of the wound's kind -> the policy's number: how much smaller after the policy's weeks.
_CUT_OFFS = (("diabetic foot", "course.diabetic_foot_percent"), ("venous", "course.venous_percent"))


def pictures(history: History, found: Course) -> tuple[bytes, bytes | None]:
    """Return the trend chart, and the clock face of the newest assessment with a size, or None."""
    wound = history.wound(found.wound) or {}
    chart = trend_chart(found, title=say("sheet.heading", wound=found.wound, name=called(wound)))
    if not found.points:
        return chart, None
    newest = found.points[-1].visit
    seen = next(entry.get("assessment", {}) for visit, entry in history.entries(found.wound) if visit["id"] == newest)
    day = found.points[-1].date
    return chart, clock_face(
        seen.get("length"),
        seen.get("width"),
        seen.get("undermining"),
        seen.get("tunnels"),
        title=say("sheet.on_day", wound=found.wound, day=day),
    )
