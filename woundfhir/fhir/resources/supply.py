"""SupplyDelivery: what was used or left, how many, of which size and lot, with the dressing change it belongs to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.codecs import read_quantity
from woundfhir.fhir.elements import extension, find_extension
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources.extensions import read_extensions, write_extensions
from woundfhir.fhir.resources.patient import absent_concept, read_absent
from woundfhir.fhir.terms import Term, Terms
from woundfhir.fhir.write_context import Resource, VisitContext
from woundfhir.record.quantity import parse

Json = Any
Reference = dict[str, str]
_STATUS = {"entered-in-error": "entered-in-error", "preliminary": "in-progress"}


def _native(terms: Terms) -> dict[str, Term]:
    return {term.concept.native: term for term in terms.groups["supply"].values() if term.concept.native}


def concepts(terms: Terms, entry: Mapping[str, Json]) -> list[Json]:
    """Return the CodeableConcepts of the supplies of one entry, for ``Procedure.usedCode``."""
    term = _native(terms)["item"]
    items = [supply.get(term.concept.key) for supply in entry.get("supplies", ())]
    return [term.codec.write(item)[1] for item in items if isinstance(item, str)]


def write_supplies(context: VisitContext, entry: Mapping[str, Json], change: Reference | None) -> None:
    """Write the supplies of one wound at one visit."""
    terms, out = context.out.terms, context.out
    native = _native(terms)
    for index, supply in enumerate(entry.get("supplies", ()), 1):
        place = f"{context.place}/supply/{index}"
        made = out.head("SupplyDelivery", place, terms.meta("supply"))
        links = write_extensions(terms, terms.groups["supply"], supply)
        links.append(extension(terms.ext("supply-visit"), "valueReference", context.encounter))
        if context.focus:
            links.append(extension(terms.ext("supply-wound"), "valueReference", context.focus[0]))
        if change:
            links.append(extension(terms.ext("supply-procedure"), "valueReference", change))
        made["extension"] = links
        made["identifier"] = out.identifier(place)
        made["status"] = _STATUS.get(context.status, "completed")
        made["patient"] = out.patient
        made["type"] = terms.cc["supply_device"]
        supplied: Json = {}
        quantity = supply.get(native["quantity"].concept.key)
        if quantity is not None:
            supplied["quantity"] = _write_quantity(terms, quantity)
        item = supply.get(native["item"].concept.key)
        if item is not None:
            concept = absent_concept(terms, item) if isinstance(item, dict) else native["item"].codec.write(item)[1]
            supplied["itemCodeableConcept"] = concept
        if supplied:
            made["suppliedItem"] = supplied
        made.update(context.date("occurrenceDateTime"))
        out.add(made)


def _write_quantity(terms: Terms, answer: Json) -> Json:
    """A SimpleQuantity (R4: no comparator); other words and reasons beside it as extension."""
    found = parse(answer)
    if isinstance(answer, dict):
        return absent_concept(terms, answer)
    if found is None or found.comparator:
        return {"extension": [extension(terms.written_as, "valueString", answer)]}
    made: dict[str, Json] = {"value": found.exact}
    if found.unit:
        made["unit"] = found.unit
        if code := terms.catalogue.units.get(found.unit):
            made["system"], made["code"] = terms.catalogue.systems["ucum"], code
    return made


def _read_quantity(terms: Terms, codec: Json, quantity: Json) -> Json:
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


def read(source: ReadContext, resource: Resource, spot: RecordPlace) -> bool:
    """Put one SupplyDelivery into the supplies of its spot."""
    terms, native = source.terms, _native(source.terms)
    supplied = resource.get("suppliedItem", {})
    item: dict[str, Json] = {}
    concept = supplied.get("itemCodeableConcept")
    if concept is not None:
        answer = read_absent(terms, concept) or native["item"].codec.read({"valueCodeableConcept": concept})
        if answer is not None:
            item[native["item"].concept.key] = answer
    quantity = _read_quantity(terms, native["quantity"].codec, supplied.get("quantity"))
    if quantity is not None:
        item[native["quantity"].concept.key] = quantity
    item.update(read_extensions(terms, terms.groups["supply"], resource))
    if not item:
        return False
    ordered = {key: item[key] for key in terms.groups["supply"] if key in item}
    return source.append(spot.entry, "supplies", ordered, resource, f"{spot.place}/supply")


def read_used(source: ReadContext, change: Resource, spot: RecordPlace) -> None:
    """Take the supplies from a dressing change's ``usedCode`` where no SupplyDelivery holds them."""
    native = _native(source.terms)["item"]
    if "supplies" in spot.entry:
        return
    words = [native.codec.read({"valueCodeableConcept": concept}) for concept in change.get("usedCode", ())]
    if found := [{native.concept.key: word} for word in words if word]:
        spot.entry["supplies"] = found
