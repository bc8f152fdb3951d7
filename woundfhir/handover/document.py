"""The Composition of a transfer document: sections in reading order, everything reachable from it.

R4 (documents): a document holds the Composition and what can be reached forwards from it, and Provenance
that targets what is in it. An assessment that only points at its wound is not reachable from the wound, so
every resource that nothing points at is listed in a section.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from woundfhir.fhir.narrative import element, narrative
from woundfhir.fhir.out import Out
from woundfhir.record import History

Json = Any
Resource = dict[str, Json]


def composition(history: History, resources: list[Resource], out: Out, time: str) -> Resource:
    """Return the Composition over the resources of a history."""
    terms = out.terms
    sections = []
    for key, title, kinds in _SECTIONS:
        entries = [{"reference": f"{r['resourceType']}/{r['id']}"} for r in resources if _belongs(r, kinds)]
        code = terms.coding(key).fhir() if key else None
        made: Json = {"title": title}
        if code:
            made["code"] = {"coding": [code]}
        made["text"] = narrative(element("p", f"{title}: {len(entries)}"))
        if entries:
            made["entry"] = entries
        else:
            made["emptyReason"] = terms.cc["empty_unavailable"]
        sections.append(made)
    author = next((v for v in reversed(list(_authors(resources)))), None)
    head = out.head("Composition", "document", terms.meta("document"))
    head["identifier"] = out.identifier("document")[0]
    head["status"] = "final"
    head["type"] = terms.cc["doc_transfer_summary"]
    head["subject"] = out.patient
    head["date"] = time
    head["author"] = [author or {"display": "not recorded"}]
    head["title"] = "Wound history for transfer"
    head["section"] = sections
    return head


def _authors(resources: list[Resource]) -> Iterator[dict[str, str]]:
    return ({"reference": f"PractitionerRole/{r['id']}"} for r in resources if r["resourceType"] == "PractitionerRole")


def _belongs(resource: Resource, kinds: tuple[str, ...]) -> bool:
    return resource["resourceType"] in kinds


_SECTIONS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("section_allergies", "Allergies and reactions", ("AllergyIntolerance",)),
    ("section_problems", "Wounds and health conditions", ("Condition", "BodyStructure")),
    ("section_findings", "Assessments", ("Observation",)),
    ("section_procedures", "Dressing changes", ("Procedure",)),
    ("section_devices", "Supplies", ("SupplyDelivery",)),
    ("section_plan", "Plan and goals", ("CarePlan", "Goal")),
    ("", "Visits, photos, contact and what was kept as received", ("Encounter", "DocumentReference", "CareTeam", "Basic")),
)
