"""Who wrote a note and when, as far as a report without values of the client may show it.

A day and a clock time are read as such before they are printed, and a designation and an id of an author only where
they look like one; free text in their place is left out.
"""

from __future__ import annotations

import re

from woundfhir.chart.views import VisitView, open_record
from woundfhir.report.judged import Judged
from woundfhir.report.words import say

_DESIGNATION = re.compile(r"[A-Za-z]{2,6}(?:\([A-Za-z]{2,6}\))?")
_ID = re.compile(r"[A-Za-z]{0,4}[-.]?\d{1,8}")
_TIME = re.compile(r"\d{4}(?:-\d\d(?:-\d\d(?:T\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:\d\d)?)?)?)?")


def written_by(one: Judged) -> list[str]:
    """Return a line for each note on which something was found: its id, when it was, who wrote it.

    Examples
    --------
    >>> from woundfhir.checklist import judge
    >>> from woundfhir.record import History
    >>> by = {"id": "rn-204", "name": "A. Nurse", "designation": "RN"}
    >>> raw = {"woundfhir": 1, "patient": {}, "visits": [{"id": "V1", "at": "2026-03-02", "by": by}]}
    >>> history = History.of(raw)
    >>> written_by(Judged("a.yaml", judge(history), history))
    ['Note V1: 2026-03-02, RN rn-204']
    """
    found = {finding.visit for finding in one.verdict.findings if finding.visit is not None}
    record = open_record(one.history)
    lines = [_line(visit) for visit in record.judged if visit_label(visit) in found]
    record.release()
    return lines


def visit_label(visit: VisitView) -> str:
    """Return how findings call a note."""
    from woundfhir.record.labels import label

    return label(visit.id, visit.index, "note")


def author(visit: VisitView) -> str:
    """Return designation and id of a note's author where they look like such, else an empty text."""
    parts = [str(visit.by.get(key) or "") for key in ("designation", "id")]
    return " ".join(p for p, form in zip(parts, (_DESIGNATION, _ID), strict=True) if form.fullmatch(p))


def _line(visit: VisitView) -> str:
    called = say("named.note", label=visit_label(visit).rpartition(" ")[2])
    when = (visit.at or visit.written_at or "").replace("T", " ") if _TIME.fullmatch(visit.at or "") else say("no_date")
    return f"{say('place', place=called)}{when}, {author(visit) or say('author_unknown')}"
