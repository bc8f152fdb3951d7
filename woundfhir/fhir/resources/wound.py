"""Condition: the wound itself, its kind, state and times; where it is stands in ``body_site.py``; both directions."""

from __future__ import annotations

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
from woundfhir.fhir.resources.body_site import (
    BODY_STRUCTURE,
    read_body,
    read_nested,
    read_side,
    read_structure,
    structure_of,
    write_body,
    write_site,
)
from woundfhir.fhir.resources.concepts import answer_concept, read_answer, word_in_code, words_of
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
        extensions.append({"url": BODY_STRUCTURE, "valueReference": write_body(out, place, native, answer)})
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
        made["code"] = answer_concept(terms, native["code"], kind)
    if (site := write_site(terms, native, answer)) is not None:
        made["bodySite"] = [site]
    made["subject"] = out.patient
    made.update(_write_when(terms, "onset", answer("onset")))
    made.update(_write_when(terms, "abatement", closed))
    if (stage := answer("stage")) is not None:
        made["stage"] = [{"summary": answer_concept(terms, native["stage"], stage)}]
    made.update(write_note(wound.get("note")))
    out.add(made)


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
    put("code", read_answer(terms, native["code"], resource.get("code")) or uncoded(resource.get("code")))
    site = first(resource.get("bodySite"))
    put("bodySite", read_answer(terms, native["bodySite"], site) or read_nested(native["bodySite"], resource))
    put("side", read_side(terms, native["side"], site) or read_nested(native["side"], resource))
    put("onset", _read_when(terms, "onset", resource))
    put("abatement", _read_when(terms, "abatement", resource))
    put("abatement", read_extension(terms, native["abatement"], resource))
    put("stage", read_answer(terms, native["stage"], first(resource.get("stage")).get("summary")))
    alone = source.came[id(resource)].same_as is None and id(resource) not in source.versions
    if alone and any(where == "bodySite" for where, _ in source.left(resource)):  # it contradicts itself, not another
        wound.update((native[name].concept.key, dict(CONFLICT)) for name in ("bodySite", "side"))
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
            put("place", read_body(source, body))
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
        implied = word_in_code(term, resource.get("code"))
        if listed is None or implied is None:
            continue
        written = wound.get(key)
        known = listed.find(written) if isinstance(written, str) else None
        if written is None:
            wound[key] = implied
        elif known is not None and known.word != implied:
            wound[key] = dict(CONFLICT)
            source.leave(resource, where, "its code says another", "conflict")


def _more_words(source: ReadContext, resource: Resource, wound: Mapping[str, Json]) -> str | None:
    """Return the words of a code that say more than the kind that was read: two wounds may differ in them alone."""
    code, term = resource.get("code"), source.terms.native["wound"]["code"]
    text = code.get("text") if isinstance(code, dict) else None
    kind, listed = wound.get(term.concept.key), term.concept.answers
    if not isinstance(text, str) or not isinstance(kind, str) or listed is None:
        return None
    word = listed.find(kind)
    displays = [one.get("display") for one in source.came[id(resource)].original["code"].get("coding") or ()]
    known = {one.casefold() for one in (kind, *(word.forms if word else ()), *displays) if isinstance(one, str)}
    return None if text.strip().casefold() in known else text.strip() or None


def _read_around(source: ReadContext, resource: Resource, wound: dict[str, Json]) -> None:
    """What another system says of how a wound is known, in words: R4 has elements for it and the record has none."""
    if "status" not in wound or wound["status"] is None:
        wound["status"] = "closed" if any(key.startswith("abatement") for key in resource) else None
    lines = [wound["note"]] if wound.get("note") else []
    if (said := _more_words(source, resource, wound)) is not None:
        lines.append(f"In the sender's words: {said}")
        source.mark(resource, ("code", "text"))
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
