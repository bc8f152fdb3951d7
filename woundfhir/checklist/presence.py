"""The rules that the catalogue makes: each concept that a note must hold, and is not written, is a finding.

Role, conditions, why a concept is asked for, by whom, and how an answer looks all stand in its entry. A value,
"none" and ``{absent: reason}`` are all answers; only nothing written is a gap.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.catalogue.model import Asked
from woundfhir.checklist.rule import Body, Page, Problem, Rule, Scope, Severity, make

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
            f"M-{concept.path}",
            name,
            _SEVERITY[concept.role],
            scope,
            "presence",
            _body(concept, reason, scope),
            concept.when,
            _page(concept, reason),
        )


def _page(concept: Concept, reason: Asked) -> Page:
    said = " and ".join(concept.when) or "always"
    return Page(
        title=f"{concept.label}: not written. Asked for when: {said}.",
        why=reason.why,
        wrong=f"nothing under {concept.path}",
        right=reason.example,
        fix=_fix(concept, reason),
        source=f"{reason.source} ({reason.mark})",
    )


def _fix(concept: Concept, reason: Asked) -> str:
    return f"{concept.question} For example: {reason.example}"


def _body(concept: Concept, reason: Asked, scope: Scope) -> Body:
    path, others = concept.path, reason.instead
    message = f"{concept.label}: not written"
    fix = _fix(concept, reason)

    def missing(view: Any, policy: Any) -> Iterator[Problem]:
        if view.written(path) or any(view.written(other) for other in others):
            return
        if reason.standing and view.answered_before(path):
            return
        yield Problem(view.path(path), message, fix)

    return missing
