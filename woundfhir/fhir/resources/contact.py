"""The client's contact: CareTeam, and a RelatedPerson of others."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import first, objects
from woundfhir.fhir.leaves import every
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources.concepts import words_of
from woundfhir.fhir.write_context import Resource, WriteContext

Json = Any


def write_contact(out: WriteContext) -> None:
    """Write the client's contact, where there is one."""
    contact: Mapping[str, str] | None = out.history.patient.get("contact")
    if not contact:
        return
    made = out.head("CareTeam", "contact", out.terms.meta("contact"))
    made["identifier"] = out.identifier("contact")
    made["subject"] = out.patient
    participant: dict[str, Json] = {}
    if "role" in contact:
        participant["role"] = [{"text": contact["role"]}]
    if "name" in contact:
        participant["member"] = {"display": contact["name"]}
    if participant:
        made["participant"] = [participant]
    if "phone" in contact:
        made["telecom"] = [{"system": "phone", "value": contact["phone"]}]
    out.add(made)


def read_contact(source: ReadContext, resource: Resource, patient: dict[str, Json]) -> bool:
    """Put one CareTeam with its telephone into the client's contact."""
    participant = first(resource.get("participant"))
    contact = {
        "name": (participant.get("member") or {}).get("display"),
        "role": words_of(first(participant.get("role"))),
        "phone": first(resource.get("telecom")).get("value"),
    }
    found = {key: value for key, value in contact.items() if value}
    if not found or patient.get("contact", found) != found:
        return False
    patient["contact"] = found
    source.placed(resource, "contact")
    return True


def read_related(source: ReadContext, resource: Resource, patient: dict[str, Json]) -> bool:
    """Put somebody whom others know as near to the client into the contact, unless there is another."""
    name = first(resource.get("name"))
    reached = enumerate(objects(resource, "telecom"))
    number = next((n for n, one in reached if one.get("system") == "phone" and "value" in one), None)
    relation = first(resource.get("relationship"))
    contact = {
        "name": name.get("text") or " ".join(one for one in (*name.get("given", ()), name.get("family")) if one),
        "role": words_of(relation),
        "phone": None if number is None else resource["telecom"][number]["value"],
    }
    found = {key: str(value) for key, value in contact.items() if value}
    if not found.keys() >= {"name", "phone"} or patient.get("contact", found) != found:
        return False
    patient["contact"] = found
    source.placed(resource, None)
    if number is not None:
        source.mark(resource, ("telecom", number, "system"), ("telecom", number, "value"))
    keys = ("text",) if "text" in name else ("given", "family")
    source.mark(resource, *(path for key in keys for path, _ in every(name.get(key), ("name", 0, key))))
    source.mark(resource, ("relationship", 0, *(("text",) if "text" in relation else ("coding", 0, "display"))))
    source.mark_ref(resource, ("patient",), resource.get("patient"))
    return True
