"""Practitioner, PractitionerRole and Organization: who gave the care and wrote the note."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import extension, find_extension, first
from woundfhir.fhir.ids import NAMESPACE, uuid5
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources.concepts import words_of
from woundfhir.fhir.write_context import Resource, WriteContext
from woundfhir.record.canonical import as_json

Json = Any


def write_author(out: WriteContext, by: Mapping[str, str] | None) -> dict[str, str] | None:
    """Write an author once and return the reference to their role."""
    if not by:
        return None
    key = as_json(dict(by))
    if key in out.authors:
        return out.authors[key]
    terms = out.terms
    person = {name: by[name] for name in ("id", "name") if name in by}
    # Named by what is known of them, so that a note added later does not rename anybody.
    place = f"author/{uuid5(NAMESPACE.bytes, key)[:8]}"
    role = out.head("PractitionerRole", place, terms.meta("practitioner-role"))
    role["identifier"] = out.identifier(place)
    if person:
        made = out.head("Practitioner", place, terms.meta("practitioner"))
        if "id" in person:
            made["extension"] = [extension(terms.ext("author-id"), "valueString", person["id"])]
        made["identifier"] = out.identifier(place)
        if "name" in person:
            made["name"] = [{"text": person["name"]}]
        role["practitioner"] = out.add(made)
    if "organisation" in by:
        house = out.head("Organization", place, terms.meta("organization"))
        house["identifier"] = out.identifier(place)
        house["name"] = by["organisation"]
        role["organization"] = out.add(house)
    if "designation" in by:
        role["code"] = [{"text": by["designation"]}]
    out.authors[key] = out.add(role)
    return out.authors[key]


def read_author(source: ReadContext, ref: Json, holder: Resource) -> dict[str, str] | None:
    """Return the author that a reference names: a person, their role, an organisation, a team.

    Somebody who did not come is named by the reference, and by the words beside it.
    """
    found = source.follow(ref, holder)
    if found is None or not source.counts(found):
        return _read_absent(source, ref, holder)
    kind = found.get("resourceType")
    person: Json = source.follow(found.get("practitioner"), found) if kind == "PractitionerRole" else found
    house: Json = source.follow(found.get("organization"), found) if kind == "PractitionerRole" else found
    by: dict[str, str | None] = {}
    if isinstance(person, dict) and person.get("resourceType") in ("Practitioner", "RelatedPerson"):
        by["id"] = _read_id(source, person)
        by["name"] = _read_name(source, person)
        source.placed(person, source.place(person))
    if kind == "PractitionerRole":
        by["designation"] = words_of(first(found.get("code")))
        _mark_concept(source, found, ("code", 0))
    if isinstance(house, dict) and house.get("resourceType") in ("Organization", "CareTeam"):
        by["organisation"] = house.get("name")
        source.mark(house, ("name",))
        if house.get("resourceType") == "Organization":
            source.placed(house, source.place(house))
    if kind in ("PractitionerRole", "Practitioner", "RelatedPerson", "Organization"):
        source.placed(found, source.place(found))
    return _said(by) or _read_absent(source, ref, holder)


def _said(by: Mapping[str, str | None]) -> dict[str, str]:
    """Return what is known of an author: blanks name nobody."""
    return {key: value.strip() for key, value in by.items() if value and value.strip()}


def _read_absent(source: ReadContext, ref: Json, holder: Resource) -> dict[str, str] | None:
    name = source.name(ref, holder)
    display = ref.get("display") if isinstance(ref, Mapping) else None
    by = {"id": name.removeprefix("identifier:") if name else None, "name": display}
    return _said(by) or None


def _read_name(source: ReadContext, person: Resource) -> str | None:
    name = first(person.get("name"))
    if name.get("text"):
        source.mark(person, ("name", 0, "text"))
    else:
        for key in ("prefix", "given", "suffix"):
            source.mark(person, *(("name", 0, key, n) for n in range(len(name.get(key, ())))))
        source.mark(person, ("name", 0, "family"))
    return human_name(name)


def _mark_concept(source: ReadContext, resource: Resource, path: tuple[Json, ...]) -> None:
    """The words of a concept that are read by ``words_of``: its text, else the display of its one coding."""
    source.mark(resource, (*path, "text"))
    if "text" not in first(resource.get(str(path[0]))):
        source.mark(resource, (*path, "coding", 0, "display"))


def _read_id(source: ReadContext, person: Resource) -> str | None:
    own = find_extension(person, source.terms.ext("author-id"))
    if own:
        return own.get("valueString")
    for index, one in enumerate(person.get("identifier", ())):
        if one.get("system") != (source.system or "") and not _names_our_place(one):
            source.mark(person, ("identifier", index, "value"))
            return one.get("value")  # type: ignore[no-any-return]
    return None


def _names_our_place(one: Mapping[str, Json]) -> bool:
    """Whether an identifier names a place in a record of ours: it is nobody's number, whatever else was damaged."""
    return str(one.get("system")).startswith("urn:uuid:") and str(one.get("value")).startswith("author/")


def human_name(name: Mapping[str, Json]) -> str | None:
    """Return a HumanName as one text."""
    if name.get("text"):
        return str(name["text"])
    parts = [*name.get("prefix", ()), *name.get("given", ()), name.get("family"), *name.get("suffix", ())]
    return " ".join(part for part in parts if part and part.strip()) or None
