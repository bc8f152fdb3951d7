"""What another resource that came takes back: it says that it replaces it, or that it was deleted or made void.

A resource says nothing of this itself: its status is still that of a fact. Where two replace each other in a circle,
nothing says which of them holds, and neither is read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from woundfhir.fhir.came import Arrived, Came, Resource
from woundfhir.fhir.elements import objects
from woundfhir.fhir.reasons import CIRCLE, DELETED, LOGGED, NULLIFIED, REPLACED, Reason
from woundfhir.intake import counting
from woundfhir.r4.times import point

Json = Any
Edge = tuple[Resource, Resource]
#: What must stand in an input, as JSON, so that anything is looked for.
_HINTS = (b'"replaces"', b'"replaced-by"', b"observation-replaces", b'"NULLIFY"', b'"DELETE"', b'"action":"D"')
#: FHIR R4, extension of Observation (the address from memory).
_OBSERVATION = "http://hl7.org/fhir/StructureDefinition/observation-replaces"
#: FHIR R4, Provenance.activity (HL7 v3 DataOperation).
_UNDONE = {"DELETE": DELETED, "NULLIFY": NULLIFIED}
#: What says so of others.
_LOGS = ("Provenance", "AuditEvent")
_DATA_OPERATION = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"


def mark_replaced(came: Sequence[Came], text: bytes) -> None:
    """Give what others that came take back its reason; ``text`` is all of the input as JSON.

    Of Patients see ``notices``: each goes out as a client of their own, who must say the same alone.
    """
    if not any(hint in text for hint in _HINTS):
        return
    here = Arrived(came)
    others = (one for one in came if one.view.get("resourceType") != "Patient")
    open_ones = [one for one in others if counting.verdict(one.view).counts]
    for one in open_ones:
        for target, why in _undone(here, one.view) if one.reason is None else ():
            found = here.came[id(target)]
            found.reason = found.reason or why
    edges: list[Edge] = []
    for one in open_ones:
        if one.reason is None:
            edges += _edges(here, one.view)
    for newer, older, circle in _graded(edges):
        for resource, reason in ((newer, CIRCLE if circle else None), (older, CIRCLE if circle else REPLACED)):
            found = here.came[id(resource)]
            if reason is not None and found.reason in (None, REPLACED):
                found.reason = reason


def notices(came: Sequence[Came], text: bytes) -> Iterator[str]:
    """Yield what a person must know of Patients that came and say that one of them replaces the other.

    Source: FHIR R4, Patient.link. A Patient that says itself that it is replaced is no client of today (``counting``).
    """
    here = Arrived(came) if any(hint in text for hint in _HINTS) else None
    if here is None:
        return
    if count := sum(1 for kind in _LOGS for one in here.of(kind) for found, _, _ in _said(here, one) if found is None):
        yield f"a Provenance or an AuditEvent says that something was deleted or made void that did not come ({count})"
    found = list(_graded([edge for one in here.of("Patient") for edge in _edges(here, one)]))
    if any(circle for _, _, circle in found):
        yield "Patients here say that they replace each other: nothing says which of them holds"
    if any(not circle for _, _, circle in found):
        yield "a Patient here says that it replaces another that came: they are two clients until a person joins them"


def _graded(edges: Sequence[Edge]) -> Iterator[tuple[Resource, Resource, bool]]:
    """Yield what replaces, what is replaced, and whether that replaces the first in turn, by way of others too."""
    after: dict[int, list[int]] = {}
    for newer, older in edges:
        after.setdefault(id(newer), []).append(id(older))
    for newer, older in edges:
        yield newer, older, id(newer) in _reached(after, id(older))


def _edges(here: Arrived, resource: Resource) -> Iterator[Edge]:
    """Yield what replaces and what is replaced, as this resource says."""
    named = resource.get("replaces")
    refs = [*named] if isinstance(named, list) else []
    for one in objects(resource, "relatesTo"):
        refs += [one.get("target"), one.get("targetReference")] if one.get("code") == "replaces" else []
        if one.get("code") == "replaces" and isinstance(one.get("targetIdentifier"), dict):
            refs.append({"type": resource.get("resourceType"), "identifier": one["targetIdentifier"]})
    refs += [one.get("valueReference") for one in objects(resource, "extension") if one.get("url") == _OBSERVATION]
    links = objects(resource, "link") if resource.get("resourceType") == "Patient" else []
    refs += [one.get("other") for one in links if one.get("type") == "replaces"]
    by = [one.get("other") for one in links if one.get("type") == "replaced-by"]
    for ref, turned in (*((ref, False) for ref in refs), *((ref, True) for ref in by)):
        found = here.follow(ref, resource) if isinstance(ref, dict) else None
        same = found is not None and found.get("resourceType") == resource.get("resourceType")
        if found is not None and found is not resource and same:
            yield (found, resource) if turned else (resource, found)


def _undone(here: Arrived, resource: Resource) -> Iterator[tuple[Resource, Reason]]:
    """Yield what a Provenance or an AuditEvent says was deleted or made void, unless it was changed since."""
    for found, why, ref in _said(here, resource):
        if found is None or not _of_version(str(ref.get("reference")), found):
            continue
        changed, recorded = (point(found.get("meta", {}).get("lastUpdated")), point(resource.get("recorded")))
        if changed is None or recorded is None or changed <= recorded:
            yield found, why


def _said(here: Arrived, resource: Resource) -> Iterator[tuple[Resource | None, Reason, Resource]]:
    """Yield what a Provenance or an AuditEvent says was taken away, None where it did not come, why, and its Reference.

    An AuditEvent says so where its action is D, delete, and its outcome is not that it failed (R4, AuditEvent).
    """
    why: Reason | None = None
    refs: list[Json] = []
    if resource.get("resourceType") == "Provenance":
        activity = resource.get("activity")
        codings = objects(activity, "coding") if isinstance(activity, dict) else ()
        codes = [one.get("code") for one in codings if one.get("system") == _DATA_OPERATION]
        why = next((_UNDONE[code] for code in codes if code in _UNDONE), None)
        refs = objects(resource, "target")
    elif resource.get("resourceType") == "AuditEvent" and resource.get("action") == "D":
        why = LOGGED if resource.get("outcome", "0") == "0" else None
        refs = [one["what"] for one in objects(resource, "entity") if isinstance(one.get("what"), dict)]
    for ref in refs if why is not None else ():
        found = here.follow(ref, resource)
        if found is not resource and why is not None:
            yield found, why, ref


def _of_version(literal: str, found: Resource) -> bool:
    version = literal.partition("/_history/")[2]
    return not version or found.get("meta", {}).get("versionId", version) == version


def _reached(after: dict[int, list[int]], start: int) -> set[int]:
    """Return everything that something replaces, one after the other."""
    seen: set[int] = set()
    waiting = [start]
    while waiting:
        one = waiting.pop()
        if one not in seen:
            seen.add(one)
            waiting.extend(after.get(one, ()))
    return seen
