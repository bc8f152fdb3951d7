"""What HL7's International Patient Summary asks of a document, as a check of its structure.

Source: HL7/fhir-ips@df27097 (2.0.1), Bundle-uv-ips, Composition-uv-ips and the profiles of the entries, read for this
project; HL7's own package is on no registry that is reached here, so that HL7's engine cannot hold these profiles.
"""

from __future__ import annotations

from typing import Any

Json = Any
REQUIRED = {"11450-4", "48765-2", "10160-0"}
#: LOINC of a section -> types that its entries may have; DocumentReference may stand in all.
ENTRIES = {
    "11450-4": {"Condition"},
    "48765-2": {"AllergyIntolerance"},
    "10160-0": {"MedicationStatement", "MedicationRequest", "MedicationAdministration", "MedicationDispense"},
    "11369-6": {"Immunization"},
    "30954-2": {"Observation", "DiagnosticReport"},
    "47519-4": {"Procedure"},
    "46264-8": {"DeviceUseStatement"},
    "42348-3": {"Consent"},
    "104605-1": {"Flag"},
    "47420-5": {"Condition", "ClinicalImpression"},
    "11348-0": {"Condition"},
    "10162-6": {"Observation"},
    "18776-5": {"CarePlan", "ImmunizationRecommendation"},
    "29762-2": {"Observation"},
    "8716-3": {"Observation"},
}
_EMPTY = {"nilknown", "notasked", "withheld", "unavailable", "notstarted", "closed"}


def broken(document: Json) -> list[str]:
    """Return what a document breaks of IPS."""
    made = []
    entries = document["entry"]
    by_url = {entry["fullUrl"]: entry["resource"] for entry in entries}
    kinds = [entry["resource"]["resourceType"] for entry in entries]
    if document["type"] != "document" or "timestamp" not in document or not document["identifier"].get("value"):
        made.append("Bundle")
    if any(key in entry for entry in entries for key in ("search", "request", "response")):
        made.append("Bundle.entry")
    if kinds.count("Composition") != 1 or kinds.count("Patient") != 1 or kinds[0] != "Composition":
        made.append("one Composition and one Patient")
    head = entries[0]["resource"]
    if ("http://loinc.org", "60591-5") not in _codes(head["type"]):
        made.append("Composition.type")
    if _found(head["subject"], by_url).get("resourceType") != "Patient" or not head["author"] or not head["date"]:
        made.append("Composition")
    return [
        *made,
        *_sections(head, by_url),
        *_patient(next(r for r in by_url.values() if r["resourceType"] == "Patient")),
    ]


def _sections(head: Json, by_url: Json) -> list[str]:
    made, seen = [], set()
    for section in head["section"]:
        loinc = {code for system, code in _codes(section["code"]) if system == "http://loinc.org"}
        if not section.get("title") or "div" not in section.get("text", {}) or "section" in section:
            made.append("section")
        of_ips = loinc & ENTRIES.keys()
        if len(of_ips) > 1 or of_ips & seen:
            made.append("a section twice")
        seen |= of_ips
        for code in of_ips:
            for entry in section.get("entry", ()):
                resource = _found(entry, by_url)
                if resource.get("resourceType") not in ENTRIES[code] | {"DocumentReference"}:
                    made.append(f"{code}: {resource.get('resourceType')}")
                made.extend(f"{code}: {what}" for what in _entry(resource))
        if of_ips & REQUIRED and ("entry" in section) == ("emptyReason" in section):
            made.append("ips-comp-1")
        if "emptyReason" in section and not {code for _, code in _codes(section["emptyReason"])} <= _EMPTY:
            made.append("emptyReason")
    return [*made, *(f"no section {code}" for code in REQUIRED - seen)]


def _entry(resource: Json) -> list[str]:
    kind = resource.get("resourceType")
    needs = {
        "Condition": ("code", "subject"),
        "AllergyIntolerance": ("code", "patient"),
        "Procedure": ("code", "subject"),
    }
    made = [key for key in needs.get(kind, ()) if key not in resource]
    if kind == "Procedure" and not any(key.lstrip("_").startswith("performed") for key in resource):
        made.append("performed[x]")
    return made


def _patient(patient: Json) -> list[str]:
    made = []
    if not patient.get("name") or not any({"given", "family", "text"} & name.keys() for name in patient["name"]):
        made.append("ips-pat-1")
    if not {"birthDate", "_birthDate"} & patient.keys():
        made.append("Patient.birthDate")
    return made


def _codes(concept: Json) -> set[tuple[str, str]]:
    return {(one.get("system"), one.get("code")) for one in concept.get("coding", ())}


def _found(reference: Json, by_url: Json) -> Json:
    literal = reference["reference"]
    return by_url.get(literal) or next((r for url, r in by_url.items() if url.endswith(f"/{literal}")), {})
