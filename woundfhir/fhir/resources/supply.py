"""SupplyDelivery: what was used or left, how many, of which size and lot, with the dressing change it belongs to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.codecs import read_quantity
from woundfhir.fhir.elements import extension, find_extension
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources.concepts import absent_concept, read_absent
from woundfhir.fhir.resources.extensions import read_extensions, write_extensions
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms
from woundfhir.fhir.write_context import Resource, VisitContext
from woundfhir.record.quantity import parse

Json = Any
Reference = dict[str, str]
#: What a Procedure can have used (R4, Procedure.usedReference).
_THINGS = ("Device", "Medication", "Substance")
_STATUS = {"entered-in-error": "entered-in-error", "preliminary": "in-progress"}


def concepts(terms: Terms, entry: Mapping[str, Json]) -> list[Json]:
    """Return the CodeableConcepts of the supplies of one entry, for ``Procedure.usedCode``."""
    term = terms.native["supply"]["item"]
    items = [supply.get(term.concept.key) for supply in entry.get("supplies", ())]
    return [term.member(item)[1] for item in items if isinstance(item, str)]


def write_supplies(context: VisitContext, entry: Mapping[str, Json], change: Reference | None) -> None:
    """Write the supplies of one wound at one visit."""
    terms, out = context.out.terms, context.out
    native = terms.native["supply"]
    links = [extension(terms.ext("supply-visit"), "valueReference", context.encounter)]
    if context.focus:
        links.append(extension(terms.ext("supply-wound"), "valueReference", context.focus[0]))
    if change:
        links.append(extension(terms.ext("supply-procedure"), "valueReference", change))
    if not (supplies := entry.get("supplies")):
        return
    name, simple = context.names("SupplyDelivery"), terms.keeping(_write_quantity)
    status, date = _STATUS.get(context.status, "completed"), context.date("occurrenceDateTime")
    meta, kind, group = terms.meta("supply"), terms.cc["supply_device"], terms.groups["supply"]
    for index, supply in enumerate(supplies, 1):
        key = f"supply/{index}"
        made: Resource = {
            "resourceType": "SupplyDelivery",
            "id": name(key),
            "meta": meta,
            "extension": write_extensions(group, supply) + links,
            "identifier": out.identifier(f"{context.place}/{key}"),
            "status": status,
            "patient": out.patient,
            "type": kind,
        }
        supplied: Json = {}
        quantity = supply.get(native["quantity"].concept.key)
        if quantity is not None:
            supplied["quantity"] = simple(quantity) if quantity.__class__ is str else absent_concept(terms, quantity)
        item = supply.get(native["item"].concept.key)
        if item is not None:
            concept = absent_concept(terms, item) if isinstance(item, dict) else native["item"].member(item)[1]
            supplied["itemCodeableConcept"] = concept
        if supplied:
            made["suppliedItem"] = supplied
        made.update(date)
        out.resources.append(made)


def _write_quantity(terms: Terms, answer: str) -> Json:
    """A SimpleQuantity (R4: no comparator); other words beside it as extension."""
    found = parse(answer)
    if found is None or found.comparator:
        return {"extension": [extension(terms.written_as, "valueString", answer)]}
    made: dict[str, Json] = {"value": found.exact}
    if found.unit:
        made["unit"] = found.unit
        if code := terms.catalogue.units.get(found.unit):
            made["system"], made["code"] = terms.catalogue.systems["ucum"], code
    return made


def _read_quantity(terms: Terms, quantity: Json) -> Json:
    if not isinstance(quantity, Mapping):
        return None
    words = find_extension(quantity, terms.written_as)
    if words:
        return words.get("valueString")
    return read_absent(terms, quantity) or read_quantity(quantity)


def links(source: ReadContext, resource: Resource) -> tuple[Json, Json, Json]:
    """Return what a SupplyDelivery points at: its Procedure, its visit, its wound."""
    names = ("supply-procedure", "supply-visit", "supply-wound")
    found = [find_extension(resource, source.terms.ext(name)) for name in names]
    procedure, visit, wound = (source.follow(one.get("valueReference"), resource) if one else None for one in found)
    return procedure, visit, wound


def reference(source: ReadContext, resource: Resource, name: str) -> Json:
    """Return the Reference by which a SupplyDelivery names its visit or its wound, or None."""
    found = find_extension(resource, source.terms.ext(name))
    return None if found is None else found.get("valueReference")


def read(source: ReadContext, resource: Resource, spot: RecordPlace) -> bool:
    """Put one SupplyDelivery into the supplies of its spot."""
    terms, native = source.terms, source.terms.native["supply"]
    supplied = resource.get("suppliedItem", {})
    item: dict[str, Json] = {}
    concept = supplied.get("itemCodeableConcept")
    if concept is not None:
        answer = read_absent(terms, concept) or native["item"].codec.read({"valueCodeableConcept": concept})
        if answer is not None:
            item[native["item"].concept.key] = answer
    quantity = _read_quantity(terms, supplied.get("quantity"))
    if quantity is not None:
        item[native["quantity"].concept.key] = quantity
    item.update(read_extensions(terms, terms.groups["supply"], resource))
    if not item:
        return False
    ordered = {key: item[key] for key in terms.groups["supply"] if key in item}
    return source.append(spot.entry, "supplies", ordered, resource, f"{spot.place}/supply")


def read_used(source: ReadContext, change: Resource, spot: RecordPlace) -> None:
    """Take the supplies from what a dressing change says that it used, where no SupplyDelivery holds them."""
    native = source.terms.native["supply"]["item"]
    known = spot.entry.get("supplies")
    found: list[dict[str, Json]] = []
    for index, concept in enumerate(change.get("usedCode", ()) if known is None else ()):
        if word := native.codec.read({"valueCodeableConcept": concept}):
            found.append({native.concept.key: word})
            source.mark(change, *taken(native, concept, ("usedCode", index)))
    for index, ref in enumerate(change.get("usedReference", ())):
        thing = source.follow(ref, change)
        item, leaves = _read_thing(source, ref, thing)
        if not item or (known is not None and item not in known):
            continue
        found += [item] if item not in found else []
        if thing is None:
            source.mark(change, ("usedReference", index, "display"))
            continue
        source.reasons.pop(id(thing), None)
        source.placed(thing, None)
        source.mark_ref(change, ("usedReference", index), ref)
        source.mark(thing, *leaves)
    if found and known is None:
        spot.entry["supplies"] = found


def _read_thing(
    source: ReadContext, ref: Json, thing: Resource | None
) -> tuple[dict[str, Json], list[tuple[Any, ...]]]:
    """Return the supply that a Device, Medication or Substance is, with the leaves that say it; else its words."""
    native = source.terms.native["supply"]["item"]
    if thing is None:
        return {native.concept.key: ref["display"]} if ref.get("display") else {}, []
    kind = thing.get("resourceType")
    element = "type" if kind == "Device" else "code"
    concept = thing.get(element)
    if kind not in _THINGS or not source.counts(thing) or not isinstance(concept, dict):
        return {}, []
    word = native.codec.read({"valueCodeableConcept": concept})
    if not word:
        return {}, []
    item, leaves = {native.concept.key: word}, taken(native, concept, (element,))
    holder, at = (thing.get("batch", {}), ("batch",)) if kind == "Medication" else (thing, ())
    for key, name in (("lot", "lotNumber"), ("expires", "expirationDate")):
        if holder.get(name):
            item[key] = holder[name]
            leaves.append((*at, name))
    return item, leaves


def taken(term: Term, concept: Mapping[str, Json], at: tuple[Any, ...]) -> list[tuple[Any, ...]]:
    """Return the leaves of a concept by which its word was read: a code that is known, else its words."""
    known = term.concept.answers.by_code if term.concept.answers else {}
    for number, one in enumerate(concept.get("coding", ())):
        if (one.get("system"), one.get("code")) in known:
            return [(*at, "coding", number, "system"), (*at, "coding", number, "code")]
    return [(*at, "text") if "text" in concept else (*at, "coding", 0, "display")]
