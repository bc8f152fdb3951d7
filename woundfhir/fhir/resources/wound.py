"""Condition and BodyStructure: the wound itself, its kind, site and side, onset, stage and closure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import (
    extension,
    find_extension,
    first,
    read_date,
    read_note,
    read_span,
    uncoded,
    write_date,
    write_note,
)
from woundfhir.fhir.ids import escape
from woundfhir.fhir.read_context import CONFLICT, ReadContext, own_id
from woundfhir.fhir.resources.concepts import absent_concept, read_absent, words_of
from woundfhir.fhir.resources.extensions import read_extension, read_extensions, write_extension, write_extensions
from woundfhir.fhir.resources.people import read_author
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms, code_keys, has_code
from woundfhir.fhir.write_context import Resource, WriteContext

Json = Any
_CLINICAL = {"open": "active", "closed": "resolved"}
_CLINICAL_BACK = {
    "active": "open",
    "recurrence": "open",
    "relapse": "open",
    "inactive": "closed",
    "remission": "closed",
    "resolved": "closed",
}
_TOKEN = re.compile(r"[^\W\d_]+")
#: HL7's R4 extension by which a resource points at a BodyStructure.
BODY_STRUCTURE = "http://hl7.org/fhir/StructureDefinition/bodySite"


def _concept(terms: Terms, term: Term, answer: Json) -> Json:
    """A CodeableConcept that says a word or why there is none."""
    return absent_concept(terms, answer) if isinstance(answer, dict) else dict(term.codec.write(answer)[1])


def _read_concept(terms: Terms, term: Term, concept: Json) -> Json:
    return read_absent(terms, concept) or term.codec.read({"valueCodeableConcept": concept})


def write_wound(out: WriteContext, wound: Mapping[str, Json]) -> None:
    """Write one wound as a Condition."""
    terms, native = out.terms, out.terms.native["wound"]
    place = escape(wound["id"])

    def answer(name: str) -> Json:
        return wound.get(native[name].concept.key) if name in native else None

    made = out.head("Condition", place, terms.meta("wound"))
    extensions = write_extensions(terms.groups["wound"], wound)
    closed = answer("abatement")
    if closed is not None and wound.get("status") != "closed":  # con-4: only what is over has an abatement.
        extensions.extend(write_extension(native["abatement"], closed))
        closed = None
    if answer("place") is not None:
        extensions.append({"url": BODY_STRUCTURE, "valueReference": _write_body(out, place, native, answer)})
    if extensions:
        made["extension"] = extensions
    made["identifier"] = out.identifier(place)
    status = wound.get("status")
    if status in _CLINICAL:
        made["clinicalStatus"] = terms.cc[f"clinical_{_CLINICAL[status]}"]
    if status == "entered in error":
        made["verificationStatus"] = terms.cc["verification_entered_in_error"]
    made["category"] = [terms.cc["wound_category"]]
    if "clinicalStatus" in made:  # con-3: what stands in a problem list has one
        made["category"].append(terms.cc["problem_list_item"])
    if (kind := answer("code")) is not None:
        made["code"] = _concept(terms, native["code"], kind)
    if (site := _write_site(terms, native, answer)) is not None:
        made["bodySite"] = [site]
    made["subject"] = out.patient
    made.update(_write_when(terms, "onset", answer("onset")))
    made.update(_write_when(terms, "abatement", closed))
    if (stage := answer("stage")) is not None:
        made["stage"] = [{"summary": _concept(terms, native["stage"], stage)}]
    made.update(write_note(wound.get("note")))
    out.add(made)


def _write_site(terms: Terms, native: Mapping[str, Term], answer: Json) -> Json:
    site, side = answer("bodySite"), answer("side")
    if site is None and side is None:
        return None
    made: Json = {}
    if side is not None:
        made["extension"] = [
            extension(terms.ext("body-side"), "valueCodeableConcept", _concept(terms, native["side"], side))
        ]
    if site is not None:
        found = _concept(terms, native["bodySite"], site)
        made["extension"] = made.get("extension", []) + found.pop("extension", [])
        made.update(found)
        if not made["extension"]:
            del made["extension"]
    return made


def _write_when(terms: Terms, name: str, text: Json) -> dict[str, Json]:
    """onset[x] and abatement[x]: a dateTime, or words as onsetString, or an absent reason."""
    if text is None:
        return {}
    if isinstance(text, dict):
        missing = extension(terms.ext("absent"), "valueCodeableConcept", terms.reasons.concept(text))
        return {f"_{name}DateTime": {"extension": [missing]}}
    made = write_date(f"{name}DateTime", text, terms.written_as)
    return made if f"{name}DateTime" in made else {f"{name}String": text}


def _read_when(terms: Terms, name: str, resource: Resource) -> Json:
    missing = find_extension(resource.get(f"_{name}DateTime"), terms.ext("absent"))
    if missing:
        return terms.reasons.read(missing.get("valueCodeableConcept"))
    found = read_date(resource, f"{name}DateTime", terms.written_as) or resource.get(f"{name}String")
    return found or read_span(name, resource)


def _write_body(out: WriteContext, place: str, native: Mapping[str, Term], answer: Json) -> dict[str, str]:
    """The precise place, as a BodyStructure with the words of the nurse."""
    terms = out.terms
    made = out.head("BodyStructure", place, terms.meta("wound-place"))
    precise = answer("place")
    if isinstance(precise, dict):
        made["extension"] = [extension(terms.ext("absent"), "valueCodeableConcept", terms.reasons.concept(precise))]
    made["identifier"] = out.identifier(place)
    if isinstance(answer("bodySite"), str):
        made["location"] = _concept(terms, native["bodySite"], answer("bodySite"))
    if isinstance(answer("side"), str):
        made["locationQualifier"] = [_concept(terms, native["side"], answer("side"))]
    if isinstance(precise, str):
        made["description"] = precise
    made["patient"] = out.patient
    return out.add(made)


def is_wound(source: ReadContext, resource: Resource) -> bool:
    """Whether a Condition is a wound: by our category, by its own place, or by a code of the wound kinds."""
    terms, native = source.terms, source.terms.native["wound"]
    place = source.place(resource)
    if place is not None:
        return "/" not in place
    wound = terms.code_key("wound_category")
    if any(has_code(category, wound) for category in resource.get("category", ())):
        return True
    kinds = native["code"].concept.answers
    return kinds is not None and any(key in kinds.by_code for key in code_keys(resource.get("code")))


def read_wound(source: ReadContext, resource: Resource) -> dict[str, Json]:
    """Return one wound."""
    terms, native = source.terms, source.terms.native["wound"]
    wound: dict[str, Json] = {"id": own_id(source, resource)}

    def put(name: str, answer: Json) -> None:
        if answer is not None and name in native:
            wound[native[name].concept.key] = answer

    clinical = first(resource.get("clinicalStatus", {}).get("coding")).get("code")
    wound["status"] = _CLINICAL_BACK.get(str(clinical))
    if has_code(resource.get("verificationStatus"), terms.code_key("verification_entered_in_error")):
        wound["status"] = "entered in error"
    put("code", _read_concept(terms, native["code"], resource.get("code")) or uncoded(resource.get("code")))
    site = first(resource.get("bodySite"))
    put("bodySite", _read_concept(terms, native["bodySite"], site) or _read_nested(native["bodySite"], resource))
    put("side", read_side(terms, native["side"], site) or _read_nested(native["side"], resource))
    put("onset", _read_when(terms, "onset", resource))
    put("abatement", _read_when(terms, "abatement", resource))
    put("abatement", read_extension(terms, native["abatement"], resource))
    put("stage", _read_concept(terms, native["stage"], first(resource.get("stage")).get("summary")))
    _read_implied(source, resource, wound, native)
    if (body := structure_of(source, resource)) is not None:
        if source.place(body) is None:
            said = read_structure(source, body)
            said.pop(native["code"].concept.key, None)
            if first(resource.get("bodySite")):  # where both name one, the wound's own stands
                said = {native["place"].concept.key: said.get(native["place"].concept.key)}
            wound.update((key, answer) for key, answer in said.items() if wound.get(key) is None)
        else:
            source.placed(body, source.place(body))
            put("place", _read_body(source, body))
    wound.update(read_extensions(terms, terms.groups["wound"], resource))
    wound["note"] = read_note(resource)
    if source.place(resource) is None:
        _read_around(source, resource, wound)
    source.placed(resource, escape(wound["id"]))
    return {key: value for key, value in wound.items() if value}


def _read_implied(source: ReadContext, resource: Resource, wound: dict[str, Json], native: Mapping[str, Term]) -> None:
    """The site, side and stage that the code of others says with the kind; a conflict where another element differs."""
    for name, where in (("bodySite", "bodySite[0]"), ("side", "bodySite[0]"), ("stage", "stage[0]")):
        term = native[name]
        key, listed = term.concept.key, term.concept.answers
        implied = _listed(term, resource.get("code"))
        if listed is None or implied is None:
            continue
        written = wound.get(key)
        known = listed.find(written) if isinstance(written, str) else None
        if written is None:
            wound[key] = implied
        elif known is not None and known.word != implied:
            wound[key] = dict(CONFLICT)
            source.leave(resource, where, "its code says another", "conflict")


def _listed(term: Term, concept: Json) -> str | None:
    """The answer that a code says, beside what else it says; None where none of its codes is one of the list."""
    listed = term.concept.answers
    found = (listed.by_code.get(key) for key in code_keys(concept)) if listed is not None else iter(())
    return next((word.word for word in found if word is not None), None)


def _read_around(source: ReadContext, resource: Resource, wound: dict[str, Json]) -> None:
    """What another system says of how a wound is known, in words: R4 has elements for it and the record has none."""
    if "status" not in wound or wound["status"] is None:
        wound["status"] = "closed" if any(key.startswith("abatement") for key in resource) else None
    lines = [wound["note"]] if wound.get("note") else []
    if "unconfirmed" in source.states(resource):
        code = first((resource.get("verificationStatus") or {}).get("coding")).get("code")
        lines.append(f"Verification status: {code}")
    if severity := words_of(resource.get("severity")):
        lines.append(f"Severity: {severity}")
        source.mark(
            resource, ("severity", *(("text",) if "text" in resource["severity"] else ("coding", 0, "display")))
        )
    if isinstance(resource.get("recordedDate"), str):
        lines.append(f"Recorded: {resource['recordedDate']}")
        source.mark(resource, ("recordedDate",))
    for key, title in (("asserter", "Asserted by"), ("recorder", "Recorded by")):
        by = read_author(source, resource[key], resource) if key in resource else None
        if by:
            lines.append(f"{title}: {', '.join(by.values())}")
            source.mark_ref(resource, (key,), resource[key])
    wound["note"] = "\n".join(lines) or None


def read_side(terms: Terms, term: Term, site: Json) -> Json:
    """The side, from our extension or from any extension on the site whose code is a side."""
    own = find_extension(site, terms.ext("body-side"))
    if own:
        return _read_concept(terms, term, own.get("valueCodeableConcept"))
    sides = term.concept.answers
    for found in site.get("extension", ()):
        concept = found.get("valueCodeableConcept")
        if sides and any(key in sides.by_code for key in code_keys(concept)):
            return term.codec.read({"valueCodeableConcept": concept})
    return _side_in_words(terms, term, site)


def _side_in_words(terms: Terms, term: Term, site: Json) -> Json:
    """The side that the sender's words add to a site known by its code: "Left heel" beside the code of the heel."""
    sites, sides = terms.groups["wound"]["site"].concept.answers, term.concept.answers
    codings = site.get("coding") if isinstance(site, dict) else None
    if not (sites and sides and codings) or not any(key in sites.by_code for key in code_keys(site)):
        return None
    found = set()
    for words in (site.get("text"), *(one.get("display") for one in codings if isinstance(one, dict))):
        tokens = _TOKEN.findall(words) if isinstance(words, str) and sites.find(words) is None else []
        found |= {side.word for token in {*tokens[:1], *tokens[-1:]} if (side := sides.find(token)) is not None}
    return found.pop() if len(found) == 1 else None


def _read_nested(term: Term, holder: Json, depth: int = 0) -> Json:
    """A site or side that another guide says in an extension of the Condition: known by its code alone."""
    known = term.concept.answers
    for found in holder.get("extension", ()) if depth < 5 and known else ():
        concept = found.get("valueCodeableConcept")
        if known and any(key in known.by_code for key in code_keys(concept)):
            return term.codec.read({"valueCodeableConcept": concept})
        if (inner := _read_nested(term, found, depth + 1)) is not None:
            return inner
    return None


def structure_of(source: ReadContext, resource: Resource) -> Resource | None:
    """Return the BodyStructure at which a resource points as the place on the body, if it came."""
    link = find_extension(resource, BODY_STRUCTURE)
    body = source.follow(link.get("valueReference"), resource) if link else None
    return body if body is not None and body.get("resourceType") == "BodyStructure" else None


def _read_body(source: ReadContext, body: Resource) -> Json:
    missing = find_extension(body, source.terms.ext("absent"))
    return source.terms.reasons.read(missing.get("valueCodeableConcept")) if missing else body.get("description")


def read_structure(source: ReadContext, body: Resource) -> dict[str, Json]:
    """Return what a BodyStructure of others says of a wound: its kind, where it is, and the words beside it."""
    terms, native = source.terms, source.terms.native["wound"]
    found: dict[str, Json] = {}
    for name, element in (("code", "morphology"), ("bodySite", "location")):
        concept: Json = body.get(element)
        answer = _read_concept(terms, native[name], concept) if isinstance(concept, dict) else None
        if answer is not None:
            found[native[name].concept.key] = answer
            source.show(body, (element, _concept(terms, native[name], answer)))
            source.mark(body, (element, "text") if "text" in concept else (element, "coding", 0, "display"))
    qualifiers = body.get("locationQualifier", ())
    sides = {side for one in qualifiers if (side := _listed(native["side"], one)) is not None}
    if len(sides) == 1:
        found[native["side"].concept.key] = sides.pop()
        source.show(body, ("locationQualifier", qualifiers))
    elif (side := read_side(terms, native["side"], body.get("location") or {})) is not None:
        found[native["side"].concept.key] = side
    if (place := _read_body(source, body)) is not None:
        found[native["place"].concept.key] = place
        source.show(body, ("description", place))
    source.placed(body, None)
    return found
