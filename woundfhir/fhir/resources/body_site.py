"""Where a wound is: Condition.bodySite and BodyStructure, with the side; both directions."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import extension, find_extension
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources.concepts import absent_concept, answer_concept, read_answer, word_in_code
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms, code_keys
from woundfhir.fhir.write_context import Resource, WriteContext

Json = Any
_TOKEN = re.compile(r"[^\W\d_]+")
#: HL7's R4 extension by which a resource points at a BodyStructure.
BODY_STRUCTURE = "http://hl7.org/fhir/StructureDefinition/bodySite"


def write_site(terms: Terms, native: Mapping[str, Term], answer: Json) -> Json:
    """Return the site and side of a wound as Condition.bodySite; None where neither is written."""
    site, side = answer("bodySite"), answer("side")
    if site is None and side is None:
        return None
    made: Json = {}
    if side is not None:
        made["extension"] = [
            extension(terms.ext("body-side"), "valueCodeableConcept", answer_concept(terms, native["side"], side))
        ]
    if site is not None:
        found = answer_concept(terms, native["bodySite"], site)
        made["extension"] = made.get("extension", []) + found.pop("extension", [])
        made.update(found)
        if not made["extension"]:
            del made["extension"]
    return made


def write_body(out: WriteContext, place: str, native: Mapping[str, Term], answer: Json) -> dict[str, str]:
    """Write the precise place as a BodyStructure with the words of the nurse; return the reference to it."""
    terms = out.terms
    made = out.head("BodyStructure", place, terms.meta("wound-place"))
    precise = answer("place")
    if isinstance(precise, dict):
        made.update(absent_concept(terms, precise))
    made["identifier"] = out.identifier(place)
    if isinstance(answer("bodySite"), str):
        made["location"] = answer_concept(terms, native["bodySite"], answer("bodySite"))
    if isinstance(answer("side"), str):
        made["locationQualifier"] = [answer_concept(terms, native["side"], answer("side"))]
    if isinstance(precise, str):
        made["description"] = precise
    made["patient"] = out.patient
    return out.add(made)


def read_side(terms: Terms, term: Term, site: Json) -> Json:
    """The side, from our extension or from any extension on the site whose code is a side."""
    own = find_extension(site, terms.ext("body-side"))
    if own:
        return read_answer(terms, term, own.get("valueCodeableConcept"))
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


def read_nested(term: Term, holder: Json, depth: int = 0) -> Json:
    """A site or side that another guide says in an extension of the Condition: known by its code alone."""
    known = term.concept.answers
    for found in holder.get("extension", ()) if depth < 5 and known else ():
        concept = found.get("valueCodeableConcept")
        if known and any(key in known.by_code for key in code_keys(concept)):
            return term.codec.read({"valueCodeableConcept": concept})
        if (inner := read_nested(term, found, depth + 1)) is not None:
            return inner
    return None


def structure_of(source: ReadContext, resource: Resource) -> Resource | None:
    """Return the BodyStructure at which a resource points as the place on the body, if it came."""
    link = find_extension(resource, BODY_STRUCTURE)
    body = source.follow(link.get("valueReference"), resource) if link else None
    return body if body is not None and body.get("resourceType") == "BodyStructure" else None


def side_of(term: Term, body: Resource) -> str | None:
    """Return the one side that the qualifiers of a BodyStructure name (R4, BodyStructure.locationQualifier)."""
    sides = {side for one in body.get("locationQualifier", ()) if (side := word_in_code(term, one)) is not None}
    return sides.pop() if len(sides) == 1 else None


def read_body(source: ReadContext, body: Resource) -> Json:
    """Return the precise place that a BodyStructure of ours describes, or why it is missing."""
    missing = find_extension(body, source.terms.ext("absent"))
    return source.terms.reasons.read(missing.get("valueCodeableConcept")) if missing else body.get("description")


def read_structure(source: ReadContext, body: Resource) -> dict[str, Json]:
    """Return what a BodyStructure of others says of a wound: its kind, where it is, and the words beside it."""
    terms, native = source.terms, source.terms.native["wound"]
    found: dict[str, Json] = {}
    for name, element in (("code", "morphology"), ("bodySite", "location")):
        concept: Json = body.get(element)
        answer = read_answer(terms, native[name], concept) if isinstance(concept, dict) else None
        if answer is not None:
            found[native[name].concept.key] = answer
            source.show(body, (element, answer_concept(terms, native[name], answer)))
            source.mark(body, (element, "text") if "text" in concept else (element, "coding", 0, "display"))
    if (side := side_of(native["side"], body)) is not None:
        found[native["side"].concept.key] = side
        source.show(body, ("locationQualifier", body["locationQualifier"]))
    elif (side := read_side(terms, native["side"], body.get("location") or {})) is not None:
        found[native["side"].concept.key] = side
    if (place := read_body(source, body)) is not None:
        found[native["place"].concept.key] = place
        source.show(body, ("description", place))
    source.placed(body, None)
    return found
