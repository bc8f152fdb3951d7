"""Does it count? The first door of the way in: what a resource's modifiers say, before any reader sees it.

R4 marks the elements that can turn the meaning of a resource round (``isModifier``). ``modifiers.tsv`` lists them with
each of their codes: every code is either mapped, or the resource is not read as a fact. A code that is not listed, an
``implicitRules`` and any ``modifierExtension`` are never understood.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from woundfhir.fhir.elements import objects
from woundfhir.fhir.reasons import NO_TYPE
from woundfhir.r4.definitions import resource_types

Json = Any
Resource = dict[str, Json]
Outcome = Literal["fact", "withdrawn", "negated", "not understood"]
#: What a fact's status says of the note that it stands in; "" where it says nothing of it.
State = Literal["", "draft", "final", "amended", "unknown", "error", "past", "unconfirmed", "negated", "deceased"]

#: FHIR R4, Bundle.entry.request.method: what it says of the resource in the entry.
_METHODS: dict[str, tuple[Outcome, str]] = {
    "POST": ("fact", ""),
    "PUT": ("fact", ""),
    "DELETE": ("withdrawn", "deleted"),
    "PATCH": ("not understood", "a patch of a resource that did not come"),
    "GET": ("not understood", "a question to a server"),
    "HEAD": ("not understood", "a question to a server"),
}
#: Elements of these types whose ``use`` is a modifier, by the name under which resources carry them.
_USED = {"identifier": "Identifier", "name": "HumanName", "address": "Address", "telecom": "ContactPoint"}
_WORST: tuple[Outcome, ...] = ("withdrawn", "negated", "not understood", "fact")


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the modifiers of a resource, or of a part of it, come to.

    Parameters
    ----------
    outcome
        ``fact``, ``withdrawn`` (entered in error, refuted, cancelled ...), ``negated`` (not done, not to be done),
        ``not understood``.
    why
        Element and reason, for people; empty for a fact.
    states
        What the statuses of a fact say: draft, final, past ...
    """

    outcome: Outcome
    why: str = ""
    states: frozenset[State] = frozenset()

    @property
    def counts(self) -> bool:
        """Whether it is read as a fact."""
        return self.outcome == "fact"


_FACT = Verdict("fact")
#: R4 does not mark docStatus as a modifier; it says that nothing in the document holds (CompositionStatus).
_VOID = Verdict("withdrawn", "docStatus: entered in error")
#: Codes of a status that say the same in every type of resource that has them (FHIR R4, EventStatus and
#: RequestStatus): of types that no record meets, and that are not listed.
_UNLISTED = {
    "entered-in-error": Verdict("withdrawn", "status: entered in error", frozenset(("error",))),
    "revoked": Verdict("withdrawn", "status: revoked"),
    "cancelled": Verdict("withdrawn", "status: cancelled"),
    "not-done": Verdict("negated", "status: not done", frozenset(("negated",))),
}


@dataclass(frozen=True, slots=True)
class Modifier:
    """One modifier element of one type, with what each of its codes means."""

    type: str
    element: str
    kind: str
    system: str
    required: bool
    codes: Mapping[str, Verdict]


@cache
def modifiers() -> Mapping[str, tuple[Modifier, ...]]:
    """Return the modifier elements of each type, from ``modifiers.tsv``.

    Examples
    --------
    >>> [one.element for one in modifiers()["Condition"]]
    ['clinicalStatus', 'verificationStatus']
    >>> modifiers()["Condition"][1].codes["refuted"].why
    'verificationStatus: refuted'
    """
    text = files("woundfhir.intake").joinpath("modifiers.tsv").read_text("utf-8")
    rows = csv.DictReader((line for line in text.splitlines() if not line.startswith("#")), delimiter="\t")
    found: dict[tuple[str, str, str, str, bool], dict[str, Verdict]] = {}
    for row in rows:
        key = (row["type"], row["element"], row["kind"], row["system"], bool(row["required"]))
        why = f"{row['element']}: {row['why']}" if row["why"] else ""
        states: frozenset[Any] = frozenset((row["state"],)) - {""}
        found.setdefault(key, {})[row["code"]] = Verdict(row["outcome"], why, states)  # type: ignore[arg-type]
    out: dict[str, tuple[Modifier, ...]] = {}
    for key, codes in found.items():
        out[key[0]] = (*out.get(key[0], ()), Modifier(*key, codes))
    return out


# -- one resource ----------------------------------------------------------------------------------


def verdict(resource: Mapping[str, Json]) -> Verdict:
    """Say whether a resource counts, from all its modifiers but those of its parts (see ``parts``).

    Examples
    --------
    >>> verdict({"resourceType": "Observation", "status": "entered-in-error"})
    Verdict(outcome='withdrawn', why='status: entered in error', states=frozenset({'error'}))
    >>> verdict({"resourceType": "Observation", "status": "final"}).counts
    True
    >>> verdict({"resourceType": "Observation", "status": "made-up"}).why
    'status: a code that is not known'
    """
    kind = resource.get("resourceType")
    if kind not in resource_types():
        return Verdict("not understood", NO_TYPE.why)
    if "implicitRules" in resource or "_implicitRules" in resource:
        return Verdict("not understood", "implicitRules: rules that are not known here")
    top = _top(kind)
    if not top:
        return _UNLISTED.get(str(resource.get("status")), _FACT)
    found = [_judge(one, resource) for one in top]
    found += [_links(resource)] if "link" in resource and kind == "Patient" else []
    found += [_VOID] if resource.get("docStatus") == "entered-in-error" and kind == "DocumentReference" else []
    return _joined(found)


@cache
def _top(kind: str) -> tuple[Modifier, ...]:
    return tuple(one for one in modifiers().get(kind, ()) if "." not in one.element)


def modified(value: Json) -> bool:
    """Whether a ``modifierExtension`` stands anywhere in a value: it may turn the meaning of all around it round."""
    if isinstance(value, Mapping):
        return "modifierExtension" in value or any(modified(item) for item in value.values())
    return isinstance(value, list) and any(modified(item) for item in value)


def method(name: object) -> Verdict:
    """Say what the method of a Bundle's request makes of the resource in its entry."""
    outcome, why = _METHODS.get(str(name), ("not understood", "a method that is not known"))
    return Verdict(outcome, f"Bundle.entry.request.method: {why}" if why else "")


def parts(resource: Mapping[str, Json]) -> Iterator[tuple[tuple[str, int], Verdict]]:
    """Yield the parts of a resource that do not count, where it counts itself: name and index, and why.

    Old identifiers and names, a link to the main record of the client, and the activities of a plan that are over, or
    not to be done.

    Examples
    --------
    >>> came = {"resourceType": "Patient", "name": [{"use": "old", "family": "Doe"}, {"family": "Roe"}]}
    >>> [(where, one.why) for where, one in parts(came)]
    [(('name', 0), 'use: no longer in use')]
    """
    for name, type_name in _USED.items():
        items = resource.get(name)
        for index, item in enumerate(items if isinstance(items, list) else ()):
            if isinstance(item, Mapping) and "use" in item:
                found = _judge(modifiers()[type_name][0], item)
                if not found.counts:
                    yield (name, index), found
    if resource.get("resourceType") == "Patient" and isinstance(resource.get("link"), list):
        for index, link in enumerate(resource["link"]):
            found = _links({"link": [link]})
            if found.why:
                yield ("link", index), Verdict("not understood", found.why)
    if resource.get("resourceType") == "CarePlan":
        inner = [one for one in modifiers()["CarePlan"] if one.element.startswith("activity.detail.")]
        activities = resource.get("activity")
        for index, item in enumerate(activities if isinstance(activities, list) else ()):
            detail = item.get("detail") if isinstance(item, Mapping) else None
            if isinstance(detail, Mapping):
                found = _joined([_judge(one, detail) for one in inner])
                if not found.counts:
                    yield ("activity", index), found


# -- one element -----------------------------------------------------------------------------------


def _joined(found: list[Verdict]) -> Verdict:
    """The worst of several; facts together say all their states."""
    if not found:
        return _FACT
    worst = min(found, key=lambda one: _WORST.index(one.outcome))
    if not worst.counts or len(found) == 1:
        return worst
    return Verdict("fact", "", frozenset().union(*(one.states for one in found)))


def _links(resource: Mapping[str, Json]) -> Verdict:
    types = next(one for one in modifiers()["Patient"] if one.element == "link.type")
    links = resource["link"] if isinstance(resource["link"], list) else [resource["link"]]
    found = [types.codes.get(str(link.get("type")) if isinstance(link, Mapping) else "") for link in links]
    return _joined([one or Verdict("not understood", "link.type: a code that is not known") for one in found])


def _judge(one: Modifier, holder: Mapping[str, Json]) -> Verdict:
    name = one.element.rsplit(".", 1)[-1]
    if name.endswith("[x]"):
        return _deceased(one, holder)
    value = holder.get(name)
    if value is None:
        if f"_{name}" in holder or one.required:
            return Verdict("not understood", f"{one.element}: is missing")
        return _FACT
    if one.kind == "CodeableConcept":
        return _concept(one, value)
    code = ("true" if value else "false") if isinstance(value, bool) else value
    found = one.codes.get(code) if isinstance(code, str) else None
    return found or Verdict("not understood", f"{one.element}: a code that is not known")


def _deceased(one: Modifier, holder: Mapping[str, Json]) -> Verdict:
    name = one.element.removesuffix("[x]")
    value = holder.get(f"{name}Boolean", holder.get(f"{name}DateTime"))
    beside = f"_{name}Boolean" in holder or f"_{name}DateTime" in holder
    return one.codes["*"] if value not in (None, False) or (value is None and beside) else _FACT


def _concept(one: Modifier, value: Json) -> Verdict:
    """Every coding of the element's own system must be known; words alone, and other systems, say nothing sure."""
    codings = objects(value, "coding") if isinstance(value, Mapping) else []
    known = [one.codes.get(str(c.get("code"))) for c in codings if c.get("system", one.system) == one.system]
    unknown = Verdict("not understood", f"{one.element}: a code that is not known")
    # Where another system's code (an older one of HL7's) is withdrawn or negated, it is not read as a fact either.
    others = [one.codes.get(str(c.get("code")), _FACT) for c in codings if c.get("system", one.system) != one.system]
    if not known:
        return _joined([*(found for found in others if not found.counts), unknown])
    return _joined([*(found or unknown for found in known), *(found for found in others if not found.counts)])
