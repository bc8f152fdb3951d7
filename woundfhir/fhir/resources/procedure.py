"""Procedure: the dressing change and each of its steps; what a Procedure has no element for stands in extensions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from woundfhir.fhir.elements import read_note
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources import observation
from woundfhir.fhir.resources.answers import components, read_components
from woundfhir.fhir.resources.concepts import absent_concept, read_absent, words_of
from woundfhir.fhir.resources.extensions import read_extension, urls
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import code_keys, has_code
from woundfhir.fhir.write_context import Resource, VisitContext
from woundfhir.record.answers import NONE
from woundfhir.record.shapes import shape_of

Json = Any
Reference = dict[str, str]
Name = Callable[[str], str]
CHANGE = "care"


# -- writing ---------------------------------------------------------------------------------------


def write_care(context: VisitContext, entry: Mapping[str, Json], items: list[Json]) -> Reference | None:
    """Write the care of one wound at one visit; ``items`` are the CodeableConcepts of the supplies used."""
    care = entry.get("care")
    if care is None:
        return None
    terms = context.out.terms
    meta, code = terms.meta("dressing-change"), terms.cc["dressing_change"]
    name = context.names("Procedure")
    change = _filled(context, name, _frame(context, None, context.event), CHANGE, meta, code)
    if items:
        change["usedCode"] = items
    reference = context.out.add(change)
    frames = [_frame(context, reference, context.event, extended=extended) for extended in (False, True)]
    for key, answer in care.items():
        term = terms.groups["care"][key]
        if term.spread == "step":
            _write_step(context, name, frames, term, answer, reference)
        else:
            observation.write(context, term, answer, [], care, reference)
    return reference


def _frame(
    context: VisitContext, part_of: Reference | None, status: str, reason: Json = None, *, extended: bool = False
) -> Resource:
    """What every Procedure made here says, in the order of its elements; those of its own are filled in."""
    return {
        "resourceType": "Procedure",
        "id": None,
        "meta": None,
        **({"extension": None} if extended else {}),
        "identifier": None,
        **({} if part_of is None else {"partOf": [part_of]}),
        "status": status,
        **({} if reason is None else {"statusReason": reason}),
        "code": None,
        "subject": context.out.patient,
        "encounter": context.encounter,
        **context.date("performedDateTime"),
        **({} if context.author is None else {"performer": [{"actor": context.author}]}),
        **({} if context.focus is None else {"reasonReference": context.focus}),
    }


def _filled(context: VisitContext, name: Name, frame: Resource, key: str, meta: Json, code: Json) -> Resource:
    made = frame.copy()
    made["id"] = name(key)
    made["meta"] = meta
    made["identifier"] = [{"system": context.out.system, "value": f"{context.place}/{key}"}]
    made["code"] = code
    return made


def _write_step(
    context: VisitContext, name: Name, frames: list[Resource], term: Term, answer: Json, change: Reference
) -> None:
    terms, key = context.out.terms, term.concept.key
    if answer == NONE or (answer.__class__ is dict and "absent" in answer):
        reason = terms.none if answer == NONE else terms.reasons.concept(answer)
        frame = _frame(context, change, "not-done", reason)
        context.out.add(_filled(context, name, frame, key, term.meta, term.code))
        return
    for index, item in enumerate(answer if answer.__class__ is list else (answer,), 1):
        code = None if term.kind is None else _of_kind(term, term.kind, item)
        rest = _beside(term, item, None if code is None else term.kind)
        if code is None:
            code = term.coded(item) if term.varies else term.code
        place = f"{key}/{index}" if term.concept.many else key
        frame = frames[1] if rest else frames[0]
        if shape_of(term.concept).denied(term.concept, item):
            frame = _frame(context, change, "not-done", terms.none, extended=bool(rest))
        made = _filled(context, name, frame, place, term.meta, code)
        if rest:
            made["extension"] = rest
        if "note" in item and "note" not in term.fields:
            made["note"] = [{"text": item["note"]}]
        if term.used and (used := _used(terms, term, item)):
            made["usedCode"] = used
        context.out.resources.append(made)


def _of_kind(term: Term, kind: Term, item: Mapping[str, Json]) -> Json:
    """The step's code with that of the word beside it, where a field names the kind of procedure by a word with codes.

    The text is that of the word.
    """
    word = item.get(kind.concept.key)
    return term.of_kind(word) if word.__class__ is str else None


def _beside(term: Term, item: Mapping[str, Json], but: Term | None) -> list[Json]:
    """The extensions with what a Procedure has no element for; an item has its fields in the order of the catalogue."""
    rest: list[Json] = []
    for name, answer in item.items():
        field = term.beside.get(name)
        if field is None or field is but:
            continue
        if answer.__class__ is list:
            rest.extend(map(field.extension, answer))
        else:
            rest.append(field.extension(answer))
    return rest


def _used(terms: Json, term: Term, item: Mapping[str, Json]) -> list[Json]:
    answers = [(field, item[field.concept.key]) for field in term.used if field.concept.key in item]
    return [absent_concept(terms, one) if one.__class__ is dict else field.member(one)[1] for field, one in answers]


# -- reading ---------------------------------------------------------------------------------------


def read(source: ReadContext, resource: Resource, spot: RecordPlace) -> bool:
    """Put one Procedure into the care of its spot."""
    terms = source.terms
    code = resource.get("code")
    if has_code(code, terms.code_key("dressing_change")):
        if resource.get("status") == "not-done":
            return False
        spot.answers("care")
        source.placed(resource, f"{spot.place}/{CHANGE}")
        return True
    term = next((terms.steps[key] for key in code_keys(code) if key in terms.steps), None)
    return term is not None and read_step(source, resource, spot, term)


def read_step(source: ReadContext, resource: Resource, spot: RecordPlace, term: Term) -> bool:
    """Put one step into the care of its spot."""
    terms, care = source.terms, spot.answers("care")
    if care is None:
        return False
    key, place = term.concept.key, f"{spot.place}/{term.concept.key}"
    if resource.get("status") == "not-done":
        item = _read_item(source, resource, term)
        if shape_of(term.concept).denied(term.concept, item):
            return _put_item(source, resource, care, term, item, place)
        if key in care:
            return False
        reason = resource.get("statusReason")
        care[key] = NONE if reason is None or terms.is_none(reason) else terms.reasons.read(reason)
        source.placed(resource, place)
        return True
    item = _read_item(source, resource, term)
    if source.place(resource) is None:
        _read_name(source, resource, term, item)
    return _put_item(source, resource, care, term, item, place)


def _put_item(
    source: ReadContext, resource: Resource, care: dict[str, Json], term: Term, item: dict[str, Json], place: str
) -> bool:
    key = term.concept.key
    if term.concept.many:
        return source.append(care, key, item, resource, place)
    if key in care:
        return False
    care[key] = item
    source.placed(resource, place)
    return True


def read_change(source: ReadContext, resource: Resource, spot: RecordPlace) -> None:
    """Read a dressing change of others without details: it was done, and its name is the note."""
    if source.place(resource) is not None or any(value for key, value in spot.entry.items() if key != "wound"):
        return
    code = resource["code"]
    spot.entry["note"] = words_of(code) or "Dressing change"
    source.mark(resource, ("code", "text") if "text" in code else ("code", "coding", 0, "display"))
    _mark_code(source, resource)


def _mark_code(source: ReadContext, resource: Resource) -> None:
    """Without its only code it would be no such step."""
    came = source.came[id(resource)].original["code"].get("coding") or ()
    if len(came) == 1:
        source.mark(resource, ("code", "coding", 0, "system"), ("code", "coding", 0, "code"))


def _read_name(source: ReadContext, resource: Resource, term: Term, item: dict[str, Json]) -> None:
    """Read a step of others without details: it was done, and its name stands as its note."""
    code: Json = resource["code"]
    codings = code.get("coding") or ()
    came = source.came[id(resource)].original["code"].get("coding") or ()
    _mark_code(source, resource)
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
    said = urls(resource)
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
        if field.url in said and name in term.beside:
            answer = read_extension(terms, field, resource)
            if answer is None:
                continue
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
    found = read_components(source, term, details)
    item.update(found)
    source.placed(details, source.place(details))
    source.show(details, ("code", term.details), ("component", components(term, found)))


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
