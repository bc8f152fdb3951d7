"""Condition of the client that is no wound: written by its name, read with what others say around it, in words."""

from __future__ import annotations

from typing import Any

from woundfhir.fhir.elements import first, read_span
from woundfhir.fhir.leaves import every
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources.concepts import read_absent, words_of
from woundfhir.fhir.resources.known import read_known, write_known
from woundfhir.fhir.resources.people import read_author
from woundfhir.fhir.terms import has_code
from woundfhir.fhir.write_context import Resource, WriteContext

Json = Any


def write_conditions(out: WriteContext) -> None:
    """Write the client's illnesses beside the wounds."""
    write_known(out, "conditions", out.history.patient.get("conditions"), _write_condition)


def _write_condition(out: WriteContext, place: str, words: Json, code: Json) -> None:
    made = out.head("Condition", place, out.terms.meta("health-condition"))
    made["identifier"] = out.identifier(place)
    if code is None:  # R4 (con-3): what stands in a problem list has a clinical status; a listed illness is there.
        made["clinicalStatus"] = out.terms.cc["clinical_active"]
        made["category"] = [out.terms.cc["problem_list_item"]]
    made["code"] = code or {"text": words}
    made["subject"] = out.patient
    out.add(made)


def read_condition(source: ReadContext, resource: Resource, patient: dict[str, Json]) -> bool:
    """Put one Condition that is no wound into the client's conditions, unless it is over or not established."""
    states = source.states(resource)
    if "past" in states:
        source.refuse(resource, "a health condition that is over: no place in the record")
        return False
    if "unconfirmed" in states:
        source.refuse(resource, "verificationStatus: a health condition that is not confirmed", "not understood")
        return False
    if any(key.startswith("abatement") for key in resource) and "clinicalStatus" not in resource:
        source.refuse(resource, "a health condition that is over: no place in the record")
        return False
    code = resource.get("code")
    words = words_of(code)
    none = has_code(code, source.terms.code_key("no_known_conditions")) or read_absent(source.terms, code) is not None
    if source.place(resource) is None and not none:
        words = _described(source, resource, words)
    return read_known(source, patient, "conditions", resource, words)


def _described(source: ReadContext, resource: Resource, name: str | None) -> str | None:
    """An illness with what R4 has elements for and the record has none: ``diabetes (since 2015; severity: severe)``."""
    if name is None:
        return None
    lines = _course(source, resource)
    for key, title in (("severity", "severity"), ("stage", "stage"), ("bodySite", "site")):
        held = resource.get(key)
        at: tuple[Json, ...] = (key,)
        if isinstance(held, list):
            held, at = first(held), (key, 0)
        if key == "stage" and isinstance(held, dict):
            held, at = held.get("summary"), (*at, "summary")
        if isinstance(held, dict) and (said := words_of(held)):
            lines.append(f"{title}: {said}")
            source.mark(resource, (*at, *(("text",) if "text" in held else ("coding", 0, "display"))))
    lines += _recorded(source, resource)
    return f"{name} ({'; '.join(lines)})" if lines else name


def _course(source: ReadContext, resource: Resource) -> list[str]:
    status = first((resource.get("clinicalStatus") or {}).get("coding")).get("code")
    lines = [status] if status in ("recurrence", "relapse") else []
    when = resource.get("onsetDateTime") or resource.get("onsetString") or read_span("onset", resource)
    if isinstance(when, str):
        lines.append(f"since {when}" if when[:4].isdigit() else when)
        source.mark(resource, *(path for key in _ONSETS for path, _ in every(resource.get(key), (key,))))
    return lines


_ONSETS = ("onsetDateTime", "onsetString", "onsetAge", "onsetPeriod", "onsetRange")


def _recorded(source: ReadContext, resource: Resource) -> list[str]:
    lines = []
    if isinstance(resource.get("recordedDate"), str):
        lines.append(f"recorded {resource['recordedDate']}")
        source.mark(resource, ("recordedDate",))
    for key, title in (("asserter", "asserted by"), ("recorder", "recorded by")):
        if by := (read_author(source, resource[key], resource) if key in resource else None):
            lines.append(f"{title} {', '.join(by.values())}")
            source.mark_ref(resource, (key,), resource[key])
    return lines
