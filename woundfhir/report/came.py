"""An answer that is missing in the record, and may be in what came: it is reported so, and not as "not written"."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from woundfhir.catalogue import Concept, catalogue
from woundfhir.catalogue.spelling import same_form
from woundfhir.checklist import Finding, Verdict
from woundfhir.checklist.pages import Page
from woundfhir.checklist.rule import PRESENCE, Rule
from woundfhir.fhir.unread import Unread, unread
from woundfhir.record import History
from woundfhir.record.labels import label
from woundfhir.record.positions import positions
from woundfhir.texts import AsWritten, Slot

_WORD = re.compile(r"[^\W\d_]{4,}")
#: So many places are named one by one.
_NAMED = 4
#: Words that name no question.
_COMMON = frozenset(("wound", "with", "from", "this", "that", "what", "visit", "note", "care", "last", "next"))


def with_what_came(verdict: Verdict, history: History, rule: Rule) -> Verdict:
    """Return a verdict that says of a missing answer where it may stand, and of each note what came and is not read.

    Parameters
    ----------
    verdict, history
        The verdict on a record, and the record.
    rule
        The rule whose page holds the words.
    """
    came = [one for one in unread(history) if one.visit is not None]
    if not came:
        return verdict
    findings = [_answered(one, came, history, rule.page) for one in verdict.findings]
    return replace(verdict, findings=(*findings, *_of_notes(verdict, came, history, rule)))


def _answered(finding: Finding, came: Sequence[Unread], history: History, page: Page) -> Finding:
    """The finding of a missing answer, with the place of what came with the same visit and may be it."""
    found = positions(finding.path)
    if found.visit is None or not finding.rule.startswith(PRESENCE):
        return finding
    visit = history.visits[found.visit]
    wound = None if found.entry is None else visit["wounds"][found.entry]["wound"]
    concept = catalogue().concept(finding.rule.removeprefix(PRESENCE))
    for one in came:
        if one.visit == visit["id"] and (None in (wound, one.wound) or wound == one.wound) and _may_be(concept, one):
            return replace(finding, message=page.message("answer", {"field": concept.label, "place": one.place}))
    return finding


def _may_be(concept: Concept, came: Unread) -> bool:
    """Whether what came may be the answer: it is called like the question, or says a word of its list."""
    asked = {word for name in concept.names for word in _words(name)} | _words(concept.key.replace("_", " "))
    if asked & _words(came.words):
        return True
    return bool(came.value) and concept.answers is not None and concept.answers.find(came.value) is not None


def _words(text: str) -> set[str]:
    return {same_form(word) for word in _WORD.findall(text)} - _COMMON


def _of_notes(verdict: Verdict, came: Sequence[Unread], history: History, rule: Rule) -> Iterator[Finding]:
    """One finding for each note on which something is missing, and with which something came that is not read."""
    lacking = {positions(one.path).visit for one in verdict.findings if one.to_add}
    for number, visit in enumerate(history.visits):
        places = [one.place for one in came if one.visit == visit["id"]]
        if places and number in lacking:
            slots: dict[str, Slot] = {"number": len(places), "places": AsWritten(places)}
            yield Finding(
                rule=rule.code,
                name=rule.name,
                severity=rule.severity,
                level="warning",
                path=f"visits[{number}]",
                message=rule.page.message(
                    "note" if len(places) == 1 else "notes" if len(places) <= _NAMED else "many", slots
                ),
                fix=rule.page.fix,
                why=rule.page.why,
                source=rule.page.source,
                wound=None,
                visit=label(visit["id"], number, "note"),
                draft=visit.get("status") == "draft",
                part=rule.part,
            )
