"""The rules that the catalogue makes: each concept that a note must hold, and is not written, is a finding.

Role and conditions stand with the concept; why it is asked for, by whom, and how an answer looks stand in
``presence.toml``. A value, "none" and ``{absent: reason}`` are all answers; only nothing written is a gap.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Any, NamedTuple

from woundfhir.catalogue import Concept, catalogue
from woundfhir.checklist.rule import Body, Page, Problem, Rule, RuleError, Scope, Severity, make

_SCOPES: dict[str, Scope] = {
    "wound": "wound",
    "visit": "visit",
    "client": "visit",
    "assessment": "entry",
    "care": "entry",
    "plan": "entry",
}
_SEVERITY: dict[str, Severity] = {"required": "required", "expected": "recommended"}
_KEYS = {"why", "example", "source", "mark", "instead", "standing"}


class Reason(NamedTuple):
    """Why a concept is asked for."""

    why: str
    example: str
    source: str
    instead: tuple[str, ...]
    standing: bool


@lru_cache(maxsize=1)
def reasons() -> Mapping[str, Reason]:
    """Return the entries of ``presence.toml`` by the path of their concept.

    Raises
    ------
    RuleError
        When an entry lacks a part, or names a concept that the catalogue does not have.
    """
    raw = tomllib.loads((files("woundfhir.checklist") / "presence.toml").read_text("utf-8"))
    out = {}
    for path, entry in raw.items():
        if entry.keys() - _KEYS or not {"why", "example", "source", "mark"} <= entry.keys():
            raise RuleError(f"presence.toml, {path}: why, example, source and mark, and nothing that is not known")
        for named in (path, *entry.get("instead", ())):
            catalogue().concept(named)
        out[path] = Reason(
            entry["why"],
            entry["example"],
            f"{entry['source']} ({entry['mark']})",
            tuple(entry.get("instead", ())),
            bool(entry.get("standing", False)),
        )
    return out


def presence_rules() -> Iterator[Rule]:
    """Yield one rule for each concept of the catalogue that is required or expected.

    Raises
    ------
    RuleError
        For such a concept without an entry in ``presence.toml``.
    """
    known = reasons()
    for concept in catalogue().concepts():
        if concept.role == "optional":
            continue
        if concept.path not in known:
            raise RuleError(f"presence.toml has no entry for {concept.path}")
        scope = _SCOPES[concept.group]
        reason = known[concept.path]
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


def _page(concept: Concept, reason: Reason) -> Page:
    said = " and ".join(concept.when) or "always"
    return Page(
        title=f"{concept.label}: not written. Asked for when: {said}.",
        why=reason.why,
        wrong=f"nothing under {concept.path}",
        right=reason.example,
        fix=_fix(concept, reason),
        source=reason.source,
    )


def _fix(concept: Concept, reason: Reason) -> str:
    return f"{concept.question} For example: {reason.example}"


def _body(concept: Concept, reason: Reason, scope: Scope) -> Body:
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
