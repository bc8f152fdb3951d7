"""Patient: who the client is, and how they are reached."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import extension, find_extension, first, objects, read_date, write_date
from woundfhir.fhir.leaves import every
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources.concepts import words_of
from woundfhir.fhir.terms import Terms
from woundfhir.fhir.write_context import Resource, WriteContext

Json = Any


def write_patient(out: WriteContext) -> None:
    """Write the client."""
    patient = out.history.patient
    if out.knows_client:
        out.add(_patient(out, patient))


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
        made["identifier"] = [_write_identifier(terms, identifier) for identifier in identifiers]
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
    identifiers = [_read_identifier(terms, identifier) for identifier in resource.get("identifier", ())]
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


def _write_identifier(terms: Terms, identifier: Mapping[str, str]) -> dict[str, Json]:
    """A number with its system, where that can be a ``uri`` at all: R4 has no white space in one (datatypes, uri).

    "health card" is the kind of number in words; a server would refuse the whole Patient for such a system.
    """
    system = identifier.get("system", "")
    if not _BLANK.search(system):
        return dict(identifier)
    beside = {"extension": [extension(terms.written_as, "valueString", system)]}
    rest = {key: value for key, value in identifier.items() if key != "system"}
    return {"type": {"text": system}, "_system": beside, **rest}


def _read_identifier(terms: Terms, identifier: Mapping[str, Json]) -> dict[str, Json]:
    words = find_extension(identifier.get("_system"), terms.written_as)
    found = {"system": words.get("valueString")} if words else {}
    return {**found, **{key: identifier[key] for key in ("system", "value") if key in identifier}}


_BLANK = re.compile(r"\s")
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
    for number, one in enumerate(objects(resource, "telecom")):
        value = one.get("value")
        if one.get("system") in _SYSTEMS and isinstance(value, str) and one.get("use") != "old":
            found.setdefault(one["system"], []).append(value)
            source.mark(resource, ("telecom", number, "system"), ("telecom", number, "value"))
    homes = [one for one in enumerate(objects(resource, "address")) if one[1].get("use") != "old"]
    for number, home in sorted(homes, key=lambda one: one[1].get("use") != "home")[:1]:
        lines = home["text"] if isinstance(home.get("text"), str) else _lines(home)
        if lines:
            found["address"] = lines
            keys = ("text",) if isinstance(home.get("text"), str) else _ADDRESS
            source.mark(resource, *(path for key in keys for path, _ in every(home.get(key), ("address", number, key))))
    spoken = sorted(enumerate(objects(resource, "communication")), key=lambda one: one[1].get("preferred") is not True)
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
    kin = next(iter(objects(resource, "contact")), {})
    name: Json = kin.get("name") if isinstance(kin.get("name"), dict) else {}
    parts = [*name.get("given", ()), name.get("family")]
    phones = (pair for pair in enumerate(objects(kin, "telecom")) if pair[1].get("system") == "phone")
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
