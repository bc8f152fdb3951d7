"""The registry of invariants: R4's key and expression, our words, and a plain generator of the places that break it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any

from woundfhir.r4.definitions import ancestors, primitive
from woundfhir.r4.structure.issue import Issues, Severity
from woundfhir.r4.structure.walk import Node

Json = Any
#: Takes the element; yields the path below it ("" for itself) and what was found, for each break.
Check = Callable[[Node], Iterator[tuple[str, str]]]


@dataclass(frozen=True, slots=True)
class Invariant:
    """One invariant of R4."""

    key: str
    #: The types it is defined on; it holds for the types made from them too.
    on: tuple[str, ...]
    severity: Severity
    #: As R4 gives it, in FHIRPath (what "htmlChecks()" leaves open: ``r4/narrative/check.py``).
    expression: str
    #: What it demands, in our words.
    text: str
    check: Check


INVARIANTS: dict[str, Invariant] = {}


def invariant(key: str, *on: str, expression: str, text: str, severity: Severity = "error") -> Callable[[Check], Check]:
    """Register the function below as the check of an invariant."""

    def register(check: Check) -> Check:
        INVARIANTS[key] = Invariant(key, on, severity, expression, text, check)
        return check

    return register


def holds(key: str, *on: str, expression: str, text: str, found: str) -> Callable[[Callable[[Json], bool]], Check]:
    """Register a plain yes or no about the value of an element as the check of an invariant."""

    def register(test: Callable[[Json], bool]) -> Check:
        def check(node: Node) -> Iterator[tuple[str, str]]:
            if not test(node.value):
                yield "", found

        return invariant(key, *on, expression=expression, text=text)(check)

    return register


def broken(node: Node, issues: Issues) -> None:
    """Add an issue for each invariant that an element breaks."""
    for rule in _rules(node.type):
        for below, found in rule.check(node):
            why = f"{rule.key}: {rule.expression}"
            issues.add(rule.key, node.path + below, rule.text, found, why, severity=rule.severity)


@cache
def _rules(type_name: str) -> tuple[Invariant, ...]:
    """Return the invariants of a type and of what it is made from; called once all are registered."""
    if type_name == "xhtml" or primitive(type_name) is None:
        kinds = {type_name} if type_name == "xhtml" else set(ancestors(type_name))
        return tuple(rule for rule in INVARIANTS.values() if kinds & set(rule.on))
    return ()


# -- small words for the checks --------------------------------------------------------------------


def has(value: Mapping[str, Json], name: str) -> bool:
    """FHIRPath ``exists()`` of one member: its value, or an extension in its place."""
    return value.get(name) is not None or value.get("_" + name) is not None


def has_choice(value: Mapping[str, Json], start: str) -> bool:
    """FHIRPath ``exists()`` of a choice such as ``value[x]``."""
    size = len(start)
    return any((k := key.removeprefix("_")).startswith(start) and k[size : size + 1].isupper() for key in value)


def many(value: Json, name: str) -> list[Mapping[str, Json]]:
    """Return the objects of a list member; nothing where it is malformed (walk.py reports that)."""
    found = value.get(name) if isinstance(value, Mapping) else None
    return [item for item in found if isinstance(item, Mapping)] if isinstance(found, list) else []


def one(value: Json, name: str) -> Mapping[str, Json]:
    """Return an object member, or an empty one."""
    found = value.get(name) if isinstance(value, Mapping) else None
    return found if isinstance(found, Mapping) else {}


def codings(concept: Json) -> set[tuple[str | None, str | None]]:
    """Return (system, code) of each coding of a CodeableConcept."""
    return {coding(found) for found in many(concept, "coding")}


def coding(found: Mapping[str, Json]) -> tuple[str | None, str | None]:
    """Return (system, code) of a Coding; None for what is missing or no text."""
    return text(found, "system"), text(found, "code")


def number(value: Json, name: str) -> Decimal | None:
    """Return a finite number; None where it is missing or malformed (walk.py reports that)."""
    found = value.get(name) if isinstance(value, Mapping) else None
    if isinstance(found, bool) or not isinstance(found, int | float | Decimal):
        return None
    exact = Decimal(found)
    return exact if exact.is_finite() else None


def text(value: Json, name: str) -> str | None:
    """Return a text member; None where it is missing or malformed (walk.py reports that)."""
    found = value.get(name) if isinstance(value, Mapping) else None
    return found if isinstance(found, str) else None
