"""Patient, AllergyIntolerance, the client's other Conditions, and the contact as CareTeam."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from woundfhir.fhir.elements import extension, find_extension, first, read_date, read_note, write_date, write_note
from woundfhir.fhir.leaves import every
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.terms import Terms, has_code
from woundfhir.fhir.write_context import Resource, WriteContext

Json = Any
_DENIED = "says that there is none, or that it is not known, where another says one"
_ALLERGY_STATUS = ("active", "inactive", "resolved")
_ALLERGY_SYSTEM = "http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical"


def write_patient(out: WriteContext) -> None:
    """Write the client and what hangs on them alone."""
    patient = out.history.patient
    if out.knows_client:
        out.add(_patient(out, patient))
    _write_known(out, "allergies", patient.get("allergies"), _write_allergy)
    _write_known(out, "conditions", patient.get("conditions"), _write_condition)
    _write_contact(out, patient.get("contact"))


def _patient(out: WriteContext, patient: Mapping[str, Json]) -> Resource:
    terms = out.terms
    made = out.head("Patient", "patient", terms.meta("patient"))
    extensions = []
    if zone := out.history.data.get("zone"):
        extensions.append(extension(terms.ext("zone"), "valueString", zone))
    if note := patient.get("note"):
        extensions.append(extension(terms.ext("note"), "valueString", note))
    if extensions:
        made["extension"] = extensions
    if identifiers := patient.get("identifiers"):
        made["identifier"] = [dict(identifier) for identifier in identifiers]
    if name := patient.get("name"):
        made["name"] = [{key: name[key] for key in ("text", "family", "given", "prefix", "suffix") if key in name}]
    made.update(_write_reached(patient))
    sex = patient.get("sex")
    if sex:  # R4 demands one of its codes; other words stand beside it and are what is read back.
        word = terms.catalogue.answers["sex"].find(sex)
        made["gender"] = word.codings[0].code if word else "unknown"
    if sex and sex != made["gender"]:
        made["_gender"] = {"extension": [extension(terms.written_as, "valueString", sex)]}
    made.update(write_date("birthDate", patient.get("born"), terms.written_as, only_day=True))
    return made


def read_patient(source: ReadContext, resource: dict[str, Json]) -> tuple[dict[str, Json], str | None]:
    """Return the client and the record's zone."""
    source.placed(resource, "patient")
    zone = (find_extension(resource, source.terms.ext("zone")) or {}).get("valueString")
    said = client_of(source.terms, resource)
    note = said.pop("note", None)
    return {**said, **_read_reached(source, resource), **({"note": note} if note else {})}, zone


def client_of(terms: Terms, resource: dict[str, Json]) -> dict[str, Json]:
    """Return what a Patient says of the client."""
    patient: dict[str, Json] = {}
    identifiers = [{key: i[key] for key in ("system", "value") if key in i} for i in resource.get("identifier", ())]
    if identifiers := [identifier for identifier in identifiers if identifier]:
        patient["identifiers"] = identifiers
    name = _best_name(resource)
    if name := {key: name[key] for key in ("family", "given", "text", "prefix", "suffix") if key in name}:
        patient["name"] = name
    patient["born"] = read_date(resource, "birthDate", terms.written_as)
    words = find_extension(resource.get("_gender"), terms.written_as)
    patient["sex"] = words.get("valueString") if words else resource.get("gender")
    patient["note"] = (find_extension(resource, terms.ext("note")) or {}).get("valueString") or _deceased(resource)
    return {key: value for key, value in patient.items() if value}


_SYSTEMS = ("phone", "email")
_ADDRESS = ("line", "city", "district", "state", "postalCode", "country")


def _write_reached(patient: Mapping[str, Json]) -> dict[str, Json]:
    """How a client is reached, where they live and what they speak: telecom, address and communication."""
    made: dict[str, Json] = {}
    if telecom := [{"system": key, "value": value} for key in _SYSTEMS for value in patient.get(key, ())]:
        made["telecom"] = telecom
    if "address" in patient:
        made["address"] = [{"text": patient["address"]}]
    if "language" in patient:
        made["communication"] = [{"language": {"text": patient["language"]}, "preferred": True}]
    return made


def _read_reached(source: ReadContext, resource: Resource) -> dict[str, Json]:
    found: dict[str, Json] = {}
    for number, one in enumerate(_dicts(resource, "telecom")):
        value = one.get("value")
        if one.get("system") in _SYSTEMS and isinstance(value, str) and one.get("use") != "old":
            found.setdefault(one["system"], []).append(value)
            source.mark(resource, ("telecom", number, "system"), ("telecom", number, "value"))
    homes = [one for one in enumerate(_dicts(resource, "address")) if one[1].get("use") != "old"]
    for number, home in sorted(homes, key=lambda one: one[1].get("use") != "home")[:1]:
        lines = home["text"] if isinstance(home.get("text"), str) else _lines(home)
        if lines:
            found["address"] = lines
            keys = ("text",) if isinstance(home.get("text"), str) else _ADDRESS
            source.mark(resource, *(path for key in keys for path, _ in every(home.get(key), ("address", number, key))))
    spoken = sorted(enumerate(_dicts(resource, "communication")), key=lambda one: one[1].get("preferred") is not True)
    for number, one in spoken[:1]:
        language = one.get("language")
        if words := words_of(language) or first((language or {}).get("coding")).get("code"):
            found["language"] = words
            at = ("communication", number, "language")
            key = "text" if "text" in (language or {}) else "display" if words_of(language) else "code"
            source.mark(resource, (*at, "text") if key == "text" else (*at, "coding", 0, key))
    if kin := _read_kin(source, resource):
        found["contact"] = kin
    return found


def _read_kin(source: ReadContext, resource: Resource) -> dict[str, str]:
    """Whom others name in their Patient to be called about the client: the first of them."""
    kin = next(iter(_dicts(resource, "contact")), {})
    name: Json = kin.get("name") if isinstance(kin.get("name"), dict) else {}
    parts = [*name.get("given", ()), name.get("family")]
    phones = (pair for pair in enumerate(_dicts(kin, "telecom")) if pair[1].get("system") == "phone")
    number, phone = next(phones, (0, {}))
    found = {
        "name": name.get("text") or " ".join(part for part in parts if isinstance(part, str)),
        "role": words_of(first(kin.get("relationship"))),
        "phone": phone.get("value"),
    }
    at = ("contact", 0)
    source.mark(resource, (*at, "telecom", number, "value"), (*at, "telecom", number, "system"))
    keys = ("text",) if "text" in name else ("given", "family")
    source.mark(resource, *(path for key in keys for path, _ in every(name.get(key), (*at, "name", key))))
    relation = first(kin.get("relationship"))
    source.mark(resource, (*at, "relationship", 0, *(("text",) if "text" in relation else ("coding", 0, "display"))))
    return {key: str(value) for key, value in found.items() if value}


def _dicts(resource: Resource, key: str) -> list[dict[str, Json]]:
    found = resource.get(key)
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def _lines(home: Mapping[str, Json]) -> str:
    parts = [*(home.get("line") or ()), *(home.get(key) for key in _ADDRESS[1:])]
    return ", ".join(part for part in parts if isinstance(part, str))


def _best_name(resource: Resource) -> dict[str, Json]:
    """The name to use: the official one, else the usual one, else the first (R4, HumanName.use)."""
    names = [name for name in resource.get("name") or () if isinstance(name, Mapping)]
    best = [name for use in ("official", "usual") for name in names if name.get("use") == use]
    return dict((best or names or [{}])[0])


def _deceased(resource: Resource) -> str | None:
    """A client who has died: R4 marks it as a modifier, and the record says it in its note."""
    when = resource.get("deceasedDateTime")
    if isinstance(when, str):
        return f"Recorded as deceased: {when}"
    return "Recorded as deceased" if resource.get("deceasedBoolean") is True else None


# -- lists that can also say "none known" ----------------------------------------------------------


def _write_known(
    out: WriteContext, key: str, found: Json, write: Callable[[WriteContext, str, Json, Json], None]
) -> None:
    """Write a list, ``{none: known}`` or an absent reason: one resource for each, by the same writer."""
    if isinstance(found, list):
        for index, item in enumerate(found, 1):
            write(out, f"{key}/{index}", item, None)
    elif isinstance(found, dict):
        code = out.terms.cc[f"no_known_{key}"] if "none" in found else absent_concept(out.terms, found)
        write(out, f"{key}/none", {}, code)


def absent_concept(terms: Json, answer: Mapping[str, str]) -> dict[str, Json]:
    """Return a CodeableConcept that says only why it is missing."""
    return {"extension": [extension(terms.ext("absent"), "valueCodeableConcept", terms.reasons.concept(answer))]}


def read_absent(terms: Json, concept: Json) -> dict[str, str] | None:
    """Turn ``absent_concept`` back."""
    found = find_extension(concept, terms.ext("absent"))
    return terms.reasons.read(found["valueCodeableConcept"]) if found and "valueCodeableConcept" in found else None


def read_known(source: ReadContext, patient: dict[str, Json], key: str, resource: Resource, item: Json) -> bool:
    """Put one item of a list into it, or that there is none, or why it is missing."""
    terms = source.terms
    code = resource.get("code")
    if has_code(code, terms.code_key(f"no_known_{key}")):
        item = {"none": "known"}
    elif (missing := read_absent(terms, code)) is not None:
        item = missing
    else:
        if item and isinstance(patient.get(key), dict):  # one that is there outweighs the word that there is none
            for other in source.none_known.get(key, ()):
                source.refuse(other, _DENIED, "conflict")
            del patient[key]
        return bool(item) and source.append(patient, key, item, resource, key)
    if key in patient:
        if isinstance(patient[key], list):
            source.refuse(resource, _DENIED, "conflict")
        return False
    patient[key] = item
    source.none_known.setdefault(key, []).append(resource)
    source.placed(resource, f"{key}/none")
    return True


# -- AllergyIntolerance ----------------------------------------------------------------------------


def _write_allergy(out: WriteContext, place: str, allergy: Mapping[str, str], code: Json) -> None:
    terms = out.terms
    made = out.head("AllergyIntolerance", place, terms.meta("allergy"))
    made["identifier"] = out.identifier(place)
    # R4 (ait-1) asks for a clinical status; one that nobody wrote is said by its code alone, without words.
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
    """The clinical status in words, with what is not confirmed said to be so."""
    status = _read_allergy_status(resource.get("clinicalStatus", {}))
    if "unconfirmed" not in source.states(resource):
        return status
    return f"{status}, unconfirmed" if status else "unconfirmed"


def _read_allergy_status(status: Mapping[str, Json]) -> str | None:
    if "text" in status:
        return str(status["text"])
    code = first(status.get("coding")).get("code")
    return code if code in _ALLERGY_STATUS and code != "active" else None


def words_of(concept: Json) -> str | None:
    """Return the words of a CodeableConcept: its text, else the first display."""
    if not isinstance(concept, Mapping):
        return None
    return concept.get("text") or next((c["display"] for c in concept.get("coding", ()) if "display" in c), None)


# -- other Conditions ------------------------------------------------------------------------------


def _write_condition(out: WriteContext, place: str, words: Json, code: Json) -> None:
    made = out.head("Condition", place, out.terms.meta("health-condition"))
    made["identifier"] = out.identifier(place)
    if code is None:  # R4 (con-3): what stands in a problem list has a clinical status; a listed illness is there.
        made["clinicalStatus"] = out.terms.cc["clinical_active"]
        made["category"] = [out.terms.cc["problem_list_item"]]
    made["code"] = code or {"text": words}
    made["subject"] = out.patient
    out.add(made)


# -- CareTeam --------------------------------------------------------------------------------------


def _write_contact(out: WriteContext, contact: Mapping[str, str] | None) -> None:
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
    phones = (n for n, one in enumerate(_dicts(resource, "telecom")) if one.get("system") == "phone" and "value" in one)
    number = next(phones, None)
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
