"""Procedure: the dressing change and each of its steps; what a Procedure has no element for stands in extensions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import read_note
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources import observation
from woundfhir.fhir.resources.extensions import read_extension, write_extension
from woundfhir.fhir.resources.patient import absent_concept, read_absent, words_of
from woundfhir.fhir.terms import Term, code_keys, has_code
from woundfhir.fhir.write_context import Resource, VisitContext
from woundfhir.record.answers import NONE

Json = Any
Reference = dict[str, str]
_CHANGE = "care"
#: What stands before the extensions of a resource.
_HEAD = ("resourceType", "id", "meta")


# -- writing ---------------------------------------------------------------------------------------


def write_care(context: VisitContext, entry: Mapping[str, Json], items: list[Json]) -> Reference | None:
    """Write the care of one wound at one visit; ``items`` are the CodeableConcepts of the supplies used."""
    care = entry.get("care")
    if care is None:
        return None
    terms = context.out.terms
    change = _procedure(
        context, _CHANGE, terms.meta("dressing-change"), terms.cc["dressing_change"], None, context.event
    )
    change.update(_performed(context))
    if items:
        change["usedCode"] = items
    reference = context.out.add(change)
    for key, answer in care.items():
        term = terms.groups["care"][key]
        if term.shape.spread == "step":
            _write_step(context, term, answer, reference)
        else:
            observation.write(context, term, answer, [], care, reference)
    return reference


def _procedure(
    context: VisitContext, key: str, meta: Json, code: Json, part_of: Reference | None, status: str, reason: Json = None
) -> Resource:
    out = context.out
    place = f"{context.place}/{key}"
    made = out.head("Procedure", place, meta)
    made["identifier"] = out.identifier(place)
    if part_of is not None:
        made["partOf"] = [part_of]
    made["status"] = status
    if reason is not None:
        made["statusReason"] = reason
    made["code"] = code
    made["subject"] = out.patient
    made["encounter"] = context.encounter
    return made


def _performed(context: VisitContext) -> dict[str, Json]:
    made = context.date("performedDateTime")
    if context.author is not None:
        made["performer"] = [{"actor": context.author}]
    if context.focus is not None:
        made["reasonReference"] = context.focus
    return made


def _write_step(context: VisitContext, term: Term, answer: Json, change: Reference) -> None:
    terms, key = context.out.terms, term.concept.key
    if answer == NONE or (isinstance(answer, dict) and "absent" in answer):
        reason = terms.none if answer == NONE else terms.reasons.concept(answer)
        made = _procedure(context, key, term.meta, term.fhir, change, "not-done", reason)
        context.out.add({**made, **_performed(context)})
        return
    for index, item in enumerate(answer if isinstance(answer, list) else [answer], 1):
        place = f"{key}/{index}" if term.concept.many else key
        kind = _kind(term, item)
        rest = [
            one
            for name, field in term.fields.items()
            if name in item and field.concept.native != "used" and not (kind and kind[0] == name)
            for one in write_extension(terms, field, item[name])
        ]
        made = _procedure(context, place, term.meta, _step_code(term, item, kind), change, context.event)
        if rest:
            made = {key: made[key] for key in _HEAD} | {"extension": rest} | made
        made.update(_performed(context))
        if "note" in item and "note" not in term.fields:
            made["note"] = [{"text": item["note"]}]
        used = [
            _used(terms, field, item[name])
            for name, field in term.fields.items()
            if field.concept.native == "used" and name in item
        ]
        if used:
            made["usedCode"] = used
        context.out.add(made)


def _kind(term: Term, item: Mapping[str, Json]) -> tuple[str, Json] | None:
    """The field that names the kind of procedure and the CodeableConcept of its word, where the word has a code."""
    for name, field in term.fields.items():
        if field.concept.native == "code" and isinstance(item.get(name), str):
            concept = field.codec.write(item[name])[1]
            return (name, concept) if "coding" in concept else None
    return None


def _step_code(term: Term, item: Mapping[str, Json], kind: tuple[str, Json] | None) -> Json:
    """The step's code; where a field names the kind of procedure, its code and word stand beside it."""
    if kind is None:
        return term.coded(item)
    return {"coding": term.coded(item)["coding"] + kind[1]["coding"], "text": kind[1]["text"]}


def _used(terms: Json, field: Term, answer: Json) -> Json:
    return absent_concept(terms, answer) if isinstance(answer, dict) else field.codec.write(answer)[1]


# -- reading ---------------------------------------------------------------------------------------


def read(source: ReadContext, resource: Resource, spot: RecordPlace) -> bool:
    """Put one Procedure into the care of its spot."""
    terms = source.terms
    code = resource.get("code")
    if has_code(code, terms.code_key("dressing_change")):
        if resource.get("status") == "not-done":
            return False
        spot.answers("care")
        source.placed(resource, f"{spot.place}/{_CHANGE}")
        return True
    term = next((terms.steps[key] for key in code_keys(code) if key in terms.steps), None)
    care = spot.answers("care")
    if term is None or care is None:
        return False
    key, place = term.concept.key, f"{spot.place}/{term.concept.key}"
    if resource.get("status") == "not-done":
        if key in care:
            return False
        reason = resource.get("statusReason")
        care[key] = NONE if reason is None or terms.is_none(reason) else terms.reasons.read(reason)
        source.placed(resource, place)
        return True
    item = _read_item(source, resource, term)
    if source.place(resource) is None:
        _read_name(source, resource, term, item)
    if term.concept.many:
        return source.append(care, key, item, resource, place)
    if key in care:
        return False
    care[key] = item
    source.placed(resource, place)
    return True


def _read_name(source: ReadContext, resource: Resource, term: Term, item: dict[str, Json]) -> None:
    """A step of others of which nothing more is said was done all the same: its name stands as its note."""
    code: Json = resource["code"]
    codings = code.get("coding") or ()
    came = source.came[id(resource)].original["code"].get("coding") or ()
    if len(came) == 1:
        source.mark(resource, ("code", "coding", 0, "system"), ("code", "coding", 0, "code"))
    if item:
        return
    words = words_of({**code, "coding": codings[: len(came)]})
    item["note"] = words or term.concept.label
    if words:
        source.mark(resource, ("code", "text") if "text" in code else ("code", "coding", 0, "display"))


def _read_item(source: ReadContext, resource: Resource, term: Term) -> dict[str, Json]:
    terms = source.terms
    item: dict[str, Json] = {}
    used = list(resource.get("usedCode", ()))
    for name, field in term.fields.items():
        if field.concept.native == "used" and used:
            concept = used.pop(0)
            answer = read_absent(terms, concept) or field.codec.read({"valueCodeableConcept": concept})
            if answer is not None:
                item[name] = answer
        elif field.concept.native == "code":
            answer = _read_kind(source, resource, term, field)
            if answer is not None:
                item[name] = answer
        if field.concept.native != "used" and (answer := read_extension(terms, field, resource)) is not None:
            item[name] = answer
    former = term.concept.details
    for details in source.parts.get(id(resource), ()):
        if source.counts(details) and former and has_code(details.get("code"), former.key):
            _read_details(source, details, term, item)
    if "note" not in term.fields and (note := read_note(resource)):
        item["note"] = note
    order = [*term.fields, "note"]
    return {key: item[key] for key in order if key in item}


def _read_details(source: ReadContext, details: Resource, term: Term, item: dict[str, Json]) -> None:
    """Read the Observation in which earlier versions wrote what a step has no element for."""
    found = observation.read_components(term, details)
    item.update(found)
    source.placed(details, source.place(details))
    source.show(details, ("code", term.details), ("component", observation.components(term, found)))


def _read_kind(source: ReadContext, resource: Resource, term: Term, field: Term) -> Json:
    code: Json = resource.get("code")
    own = term.concept.keys | {one.coding.key for one in term.concept.known_as}
    decided = {path[-1] for path in source.mapped(resource) if path[:2] == ("code", "coding")}
    codings = enumerate((code or {}).get("coding", ()))
    rest = [c for n, c in codings if n not in decided and (c.get("system"), c.get("code")) not in own]
    if not rest:
        return None
    concept: Json = {"coding": rest}
    if "text" in code:
        concept["text"] = code["text"]
    return field.codec.read({"valueCodeableConcept": concept})
