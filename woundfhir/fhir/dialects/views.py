"""What a dialect writes beside ours, or in another shape: groups, findings as Conditions, the computed area.

Each says what one of ours says, names what it is made from (``hasMember``, ``derivedFrom``, ``evidence``), and is read
as a view: its place says so (``V1/W1/shown-bed``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from woundfhir.catalogue import BASE
from woundfhir.fhir.dialects.model import Carried, Finding, Group, Part
from woundfhir.fhir.dialects.names import SHOWN
from woundfhir.fhir.elements import extension, find_extension, first
from woundfhir.fhir.terms import Terms, code_keys
from woundfhir.fhir.write_context import Resource, WriteContext
from woundfhir.measures.rounding import converted_digits, fewest, rounded
from woundfhir.measures.size import area_rectangle
from woundfhir.record.units import MeasureError, to_unit

Json = Any
#: What an Observation made of another has from it.
_FRAME = ("status", "category", "subject", "focus", "encounter", "effectiveDateTime", "_effectiveDateTime", "performer")
_DIAGNOSIS = {
    "coding": [
        {
            "system": "http://terminology.hl7.org/CodeSystem/condition-category",
            "code": "encounter-diagnosis",
            "display": "Encounter Diagnosis",
        }
    ]
}
_HUNDREDTH = Decimal("0.01")


def reference(resource: Mapping[str, Json]) -> dict[str, str]:
    """Return the literal reference to a resource."""
    return {"reference": f"{resource['resourceType']}/{resource['id']}"}


def _made(out: WriteContext, kind: str, place: str, profile: str) -> Resource:
    meta = {"source": BASE, "profile": [profile]}
    return {**out.head(kind, place, meta), "identifier": out.identifier(place)}


def grouped(out: WriteContext, panel: Resource, place: str, groups: list[Group], members: Any) -> list[Resource]:
    """Return the panel with its members in groups, and the groups; ``members`` gives the concept of a reference."""
    left, made = list(panel.get("hasMember", ())), []
    for group in groups:
        mine = [one for one in left if members.get(one["reference"]) in group.concepts]
        if not mine:
            continue
        one = _made(out, "Observation", f"{place}/{SHOWN}{group.place}", group.profile)
        one.update({key: panel[key] for key in _FRAME if key in panel}, code=group.code, hasMember=mine)
        left = [reference(one), *(member for member in left if member not in mine)]
        made.append(one)
    return [{**panel, "hasMember": left} if made else panel, *made]


def found(out: WriteContext, one: Resource, place: str, number: str, finding: Finding) -> list[Resource]:
    """Return the Condition that says what one Observation finds, and its parts; nothing where it finds none."""
    if one.get("status") == "entered-in-error" or "dataAbsentReason" in one:
        return []
    if out.terms.is_none(one.get("valueCodeableConcept")):
        return []
    name = f"{place}/{SHOWN}{finding.place}" + (f"-{number}" if number else "")
    made = _made(out, "Condition", name, finding.profile)
    parts = [part for of in finding.parts if (part := _part(out, one, name, of)) is not None]
    if parts:
        links = (of.link for of in finding.parts if any(of.profile in part["meta"]["profile"] for part in parts))
        made["extension"] = [
            extension(link, "valueReference", reference(part)) for link, part in zip(links, parts, strict=True)
        ]
    made["category"], made["code"] = [_DIAGNOSIS], finding.code
    made.update({key: one[key] for key in ("subject", "encounter") if key in one})
    if "effectiveDateTime" in one:
        made["recordedDate"] = one["effectiveDateTime"]
    made["evidence"] = [{"detail": [reference(one)]}]
    return [made, *parts]


def _part(out: WriteContext, one: Resource, place: str, part: Part) -> Resource | None:
    loinc = out.terms.catalogue.systems["loinc"]
    inner = (c for c in one.get("component", ()) if (loinc, part.component) in code_keys(c.get("code")))
    held = next(inner, {}) if part.component else one
    value = {key: item for key, item in held.items() if key.startswith("value")}
    if not value:
        return None
    made = _made(out, "Observation", f"{place}-{part.place}", part.profile)
    made.update({key: one[key] for key in _FRAME if key in one}, code=part.code, **value)
    made["derivedFrom"] = [reference(one)]
    return made


def carried(terms: Terms, wound: Resource, rules: Iterable[Carried], panels: list[dict[str, str]]) -> Resource:
    """Return the Condition of a wound with what the extensions of another guide say of it too."""
    plain: list[Json] = []
    around: dict[str, list[Json]] = {}
    for rule in rules:
        for value in _values(terms, wound, rule, panels):
            (around.setdefault(rule.within, []) if rule.within else plain).append({"url": rule.url, **value})
    plain += [{"url": url, "extension": inner} for url, inner in around.items()]
    return {**wound, "extension": [*wound.get("extension", ()), *plain]} if plain else wound


def _values(terms: Terms, wound: Resource, rule: Carried, panels: list[dict[str, str]]) -> Iterator[dict[str, Json]]:
    site = first(wound.get("bodySite"))
    if rule.of == "panels":
        yield from ({"valueReference": one} for one in panels)
    elif rule.of == "site":
        if said := {key: value for key, value in site.items() if key != "extension"}:
            yield {"valueCodeableConcept": said}
    else:
        held = find_extension(*((site, terms.ext("body-side")) if rule.of == "side" else (wound, terms.ext(rule.of))))
        found: Iterator[tuple[str, Json]] = ((k, v) for k, v in (held or {}).items() if k.startswith("value"))
        key, value = next(found, ("", None))
        if held is None or (rule.only is not None and value is not rule.only):
            return
        if rule.value:
            yield dict(rule.value)
        elif key == "valueCodeableConcept" and "coding" in (value or {}):
            yield {key: value}
        elif key == "valueString":
            yield {"valueCodeableConcept": {"text": value}}


def with_area(terms: Terms, size: Resource) -> Resource:
    """Return the size panel with the area of its length and width as a component, with its method; never beside one
    that was measured."""
    group = terms.groups["assessment"]
    held = {
        key: part
        for part in size.get("component", ())
        for key in ("length", "width", "area")
        if not group[key].concept.keys.isdisjoint(code_keys(part.get("code")))
    }
    sides = [_side(held.get(key)) for key in ("length", "width")]
    if "area" in held or None in sides:
        return size
    (length, one), (width, other) = (side for side in sides if side is not None)
    area = rounded(area_rectangle(length, width), fewest(one, other)).quantize(_HUNDREDTH)
    part = {
        "extension": [extension(terms.ext("method"), "valueCodeableConcept", terms.cc["computed_area_rectangle"])],
        "code": group["area"].fhir,
        "valueQuantity": {"value": area, "unit": "cm2", "system": terms.catalogue.systems["ucum"], "code": "cm2"},
    }
    return {**size, "component": [*size["component"], part]}


def _side(part: Json) -> tuple[Decimal, int | None] | None:
    """One side in cm and how many digits of it count; None where it says none."""
    quantity = (part or {}).get("valueQuantity") or {}
    value, unit = quantity.get("value"), quantity.get("code")
    if "comparator" in quantity or not isinstance(value, (int, Decimal)) or value <= 0:
        return None
    number = Decimal(value)
    try:
        return to_unit(number, unit, "cm"), converted_digits(number, str(unit), "cm")
    except MeasureError:
        return None
