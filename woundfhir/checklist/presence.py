"""Presence rules, made from the catalogue: each concept that a note must have and that is not written is a finding.

Role, conditions, why a concept is asked for, by whom, and how an answer looks all stand in its entry. A value,
"none" and ``{absent: reason}`` are all answers; only nothing written is a gap.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.catalogue.model import Asked
from woundfhir.chart.conditions import CONDITIONS
from woundfhir.chart.views import EntryView
from woundfhir.checklist.pages import ONLY, Page, cited, common, joiners
from woundfhir.checklist.rule import PRESENCE, Body, Problem, Rule, Scope, Severity, make
from woundfhir.texts import AsWritten, Slot, fill

_SCOPES: dict[str, Scope] = {
    "wound": "wound",
    "visit": "visit",
    "client": "visit",
    "assessment": "entry",
    "care": "entry",
    "plan": "entry",
}
_SEVERITY: dict[str, Severity] = {"required": "required", "expected": "recommended"}


def presence_rules() -> Iterator[Rule]:
    """Yield one rule for each concept of the catalogue that is required or expected."""
    for concept in catalogue().concepts():
        reason = concept.asked
        if reason is None:
            continue
        scope = _SCOPES[concept.group]
        name = f"{concept.group}-{concept.key}-missing".replace("_", "-")
        yield make(
            f"{PRESENCE}{concept.path}",
            name,
            _SEVERITY[concept.role],
            scope,
            "presence",
            _body(concept, reason),
            concept.when,
            _page(concept, reason),
        )


def _page(concept: Concept, reason: Asked) -> Page:
    texts, join = common("presence"), joiners()
    conditions = AsWritten(CONDITIONS[name].label() for name in concept.when)
    when = fill(texts["when"], {"conditions": conditions}, {}, join) if conditions else texts["always"]
    slots: dict[str, Slot] = {
        "label": concept.label,
        "question": concept.question,
        "example": reason.example,
        "path": concept.path,
        "when": when,
    }
    title, wrong, message, fix = (fill(texts[key], slots, {}, join) for key in ("title", "wrong", "message", "fix"))
    source = cited(reason.source, reason.mark)
    # What is filled in already may hold braces: it is the text itself, not a template.
    whole = message.replace("{", "{{").replace("}", "}}")
    return Page(title, reason.why, wrong, reason.example, fix, source, reason.mark, {ONLY: whole})


def refused(entry: EntryView) -> str:
    """Return what was refused of one wound's care, in the nurse's words; empty where nothing was."""
    return " | ".join(str(item.answer("what") or "").casefold() for item in entry.items("plan.refusal"))


def _body(concept: Concept, reason: Asked) -> Body:
    path, others, scope = concept.path, reason.instead, _SCOPES[concept.group]

    def missing(view: Any, policy: Any) -> Iterator[Problem]:
        if view.written(path) or any(view.written(other) for other in others):
            return
        if reason.standing and view.answered_before(path):
            return
        said = refused(view) if scope == "entry" else ""
        if any(name.casefold() in said for name in concept.names):
            return
        yield Problem(view.path(path))

    return missing
