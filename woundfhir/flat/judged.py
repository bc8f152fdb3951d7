"""The tables of visits and of what the checklist finds: one pass of the checklist serves both."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.checklist import Finding, Verdict, judge
from woundfhir.flat.cells import filled, text
from woundfhir.flat.opened import Opened, Row
from woundfhir.flat.schema import tables
from woundfhir.language import ENGLISH, speaking
from woundfhir.record.positions import positions

Json = Any


def verdict(one: Opened) -> Verdict:
    """Return what the checklist that holds here says of a record, in English."""
    with speaking(ENGLISH.key):
        return judge(one.history)


def visits(one: Opened, judged: Verdict) -> Iterator[Row]:
    """Yield a row for each note that counts."""
    by_note: dict[int, list[tuple[Finding, bool]]] = {}
    for finding, answered in _all(judged):
        by_note.setdefault(_places(finding.path)[0], []).append((finding, answered))
    for visit in one.record.counted:
        found = by_note.get(visit.index, [])
        open_ones = [finding for finding, answered in found if not answered]
        by = visit.data.get("by", {})
        yield {
            **one.of_visit(visit),
            "written_at": visit.written_at,
            "status": visit.status,
            "author_id": text(by.get("id")),
            "designation": text(by.get("designation")),
            **filled(tables()["visits"].below("visit"), catalogue().groups["visit"], visit.data),
            "wounds": sum(not entry.wound.in_error for entry in visit.entries),
            "complete": not any(finding.level == "error" for finding in open_ones),
            "to_add": sum(finding.to_add for finding in open_ones),
            "to_look_at": sum(not finding.to_add and finding.severity != "caution" for finding in open_ones),
            "cautions": sum(finding.severity == "caution" for finding in open_ones),
            "answered": sum(answered for _, answered in found),
        }


def findings(one: Opened, judged: Verdict) -> Iterator[Row]:
    """Yield a row for each finding on a note that counts, a wound or the client."""
    titles = {rule.code: rule.page.title for rule in judged.rules}
    counted = {visit.index for visit in one.record.counted}
    number = 0
    for finding, answered in _all(judged):
        visit, _ = _places(finding.path)
        if visit != _NO_NOTE and visit not in counted:
            continue  # the gaps of a draft are information
        number += 1
        yield {
            **_head(one, finding),
            "number": number,
            "rule": finding.rule,
            "rule_title": titles[finding.rule],
            "severity": finding.severity,
            "level": finding.level,
            "path": finding.path,
            "about": ", ".join(finding.about) or None,
            "answered": answered,
            "message": finding.message,
        }


def _all(judged: Verdict) -> Iterator[tuple[Finding, bool]]:
    for finding in judged.findings:
        yield finding, False
    for finding in judged.answered:
        yield finding, True


#: The visit of a finding that is about no visit.
_NO_NOTE = -1


def _places(path: str) -> tuple[int, int | None]:
    """Return the number of the visit of a path, and that of its entry; where there is no visit, that of the wound."""
    found = positions(path)
    return (_NO_NOTE, found.wound) if found.visit is None else (found.visit, found.entry)


def _head(one: Opened, finding: Finding) -> Row:
    visit, wound = _places(finding.path)
    if visit == _NO_NOTE:
        view = None if wound is None else one.record.wounds[wound]
        return one.of_client() if view is None or view.in_error else one.of_wound(view)
    note = one.record.visits[visit]
    entry = None if wound is None else note.entries[wound]
    return one.of_visit(note) if entry is None or entry.wound.in_error else one.of_entry(entry)
