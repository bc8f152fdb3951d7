"""AllergyIntolerance."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import first, read_note, write_note
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources.concepts import read_absent, words_of
from woundfhir.fhir.resources.known import read_known, write_known
from woundfhir.fhir.terms import has_code
from woundfhir.fhir.write_context import Resource, WriteContext

Json = Any
_ALLERGY_STATUS = ("active", "inactive", "resolved")
_ALLERGY_SYSTEM = "http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical"


def write_allergies(out: WriteContext) -> None:
    """Write the client's allergies."""
    write_known(out, "allergies", out.history.patient.get("allergies"), _write_allergy)


def _write_allergy(out: WriteContext, place: str, allergy: Mapping[str, str], code: Json) -> None:
    terms = out.terms
    made = out.head("AllergyIntolerance", place, terms.meta("allergy"))
    made["identifier"] = out.identifier(place)
    # R4 (ait-1) asks for a clinical status; one that nobody wrote has its code alone, without words.
    status = allergy.get("status")
    coded = status.casefold() if status and status.casefold() in _ALLERGY_STATUS else "active"
    made["clinicalStatus"] = {"coding": [{"system": _ALLERGY_SYSTEM, "code": coded, "display": coded.capitalize()}]}
    if status:
        made["clinicalStatus"]["text"] = status
    if code is None:
        code = {"text": allergy["to"]} if "to" in allergy else None
    if code:
        made["code"] = code
    made["patient"] = out.patient
    made.update(write_note(allergy.get("note")))
    if "reaction" in allergy:
        made["reaction"] = [{"manifestation": [{"text": allergy["reaction"]}]}]
    out.add(made)


def read_allergy(source: ReadContext, resource: Resource, patient: dict[str, Json]) -> bool:
    """Put one AllergyIntolerance into the client's allergies."""
    reaction = first(first(resource.get("reaction")).get("manifestation"))
    code, none = resource.get("code"), source.terms.code_key("no_known_allergies")
    nothing = has_code(code, none) or read_absent(source.terms, code) is not None
    allergy = {
        "to": words_of(resource.get("code")),
        "reaction": words_of(reaction),
        "status": _allergy_status(source, resource),
        "note": read_note(resource) if source.place(resource) is not None or nothing else _around(source, resource),
    }
    found = {key: value for key, value in allergy.items() if value}
    return read_known(source, patient, "allergies", resource, found)


def _around(source: ReadContext, resource: Resource) -> str | None:
    """What others say around an allergy, in words: R4 has elements for it and the record has none."""
    lines = [note] if (note := read_note(resource)) else []
    for key, title in (("criticality", "Criticality"), ("onsetDateTime", "Since"), ("recordedDate", "Recorded")):
        if isinstance(resource.get(key), str):
            lines.append(f"{title}: {resource[key]}")
            source.mark(resource, (key,))
    severity = first(resource.get("reaction")).get("severity")
    if isinstance(severity, str):
        lines.append(f"Severity of the reaction: {severity}")
        source.mark(resource, ("reaction", 0, "severity"))
    return "\n".join(lines) or None


def _allergy_status(source: ReadContext, resource: Resource) -> str | None:
    """Return the clinical status in words, with a mark where it is not confirmed."""
    status = _read_allergy_status(resource.get("clinicalStatus", {}))
    if "unconfirmed" not in source.states(resource):
        return status
    return f"{status}, unconfirmed" if status else "unconfirmed"


def _read_allergy_status(status: Mapping[str, Json]) -> str | None:
    if "text" in status:
        return str(status["text"])
    code = first(status.get("coding")).get("code")
    return code if code in _ALLERGY_STATUS and code != "active" else None
