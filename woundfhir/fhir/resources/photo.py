"""DocumentReference: a photo, with its file, hash and size; the picture itself stays where it is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import extension, find_extension, first, read_date, write_date
from woundfhir.fhir.into import In, Spot
from woundfhir.fhir.out import Resource, Scene
from woundfhir.fhir.resources.extensions import read_extensions, write_extensions
from woundfhir.fhir.terms import Term, Terms, has_code

Json = Any
#: Members of Attachment in R4's order, and the codec of each.
_ATTACHMENT = ("contentType", "data", "url", "size", "hash", "title", "creation")


def _native(terms: Terms) -> dict[str, Term]:
    return {term.concept.native: term for term in terms.groups["photo"].values() if term.concept.native}


def write_photos(scene: Scene, entry: Mapping[str, Json]) -> None:
    """Write the photos of one wound at one visit."""
    out, terms = scene.out, scene.out.terms
    for index, photo in enumerate(entry.get("photos", ()), 1):
        place = f"{scene.place}/photo/{index}"
        made = out.head("DocumentReference", place, terms.meta("photo"))
        if extensions := write_extensions(terms, terms.groups["photo"], photo):
            made["extension"] = extensions
        made["identifier"] = out.identifier(place)
        made["status"] = "entered-in-error" if scene.status == "entered-in-error" else "current"
        made["type"] = terms.cc["photo"]
        made["subject"] = out.patient
        if scene.author is not None:
            made["author"] = [scene.author]
        made["content"] = [{"attachment": _write_attachment(terms, photo)}]
        context: dict[str, Json] = {"encounter": [scene.encounter]}
        if scene.focus is not None:
            context["related"] = scene.focus
        made["context"] = context
        out.add(made)


def _write_attachment(terms: Terms, photo: Mapping[str, Json]) -> dict[str, Json]:
    native = _native(terms)
    made: dict[str, Json] = {}
    for name in _ATTACHMENT:
        answer = photo.get(native[name].concept.key) if name in native else None
        if answer is None:
            continue
        if isinstance(answer, dict):
            missing = extension(terms.ext("absent"), "valueCodeableConcept", terms.reasons.concept(answer))
            made[f"_{name}"] = {"extension": [missing]}
        elif name == "creation":
            made.update(write_date(name, answer, terms.written_as))
        elif name == "size":
            key, value = native[name].codec.write(answer)
            whole = key == "valueInteger" and value > 0
            made.update(
                {name: value}
                if whole
                else {"_size": {"extension": [extension(terms.written_as, "valueString", answer)]}}
            )
        else:
            made[name] = answer
    return made


def _read_attachment(terms: Terms, attachment: Mapping[str, Json]) -> dict[str, Json]:
    found: dict[str, Json] = {}
    for name, term in _native(terms).items():
        beside = attachment.get(f"_{name}")
        missing = find_extension(beside, terms.ext("absent"))
        words = find_extension(beside, terms.written_as)
        answer: Json
        if missing:
            answer = terms.reasons.read(missing.get("valueCodeableConcept"))
        elif words:
            answer = read_date(attachment, name, terms.written_as)
        else:
            answer = attachment.get(name)
            answer = str(answer) if isinstance(answer, int) else answer
        if answer is not None:
            found[term.concept.key] = answer
    return found


def read(source: In, resource: Resource, spot: Spot) -> bool:
    """Put one DocumentReference of a photo into the photos of its spot."""
    terms = source.terms
    if not has_code(resource.get("type"), terms.code_key("photo")):
        return False
    photo = _read_attachment(terms, first(resource.get("content")).get("attachment", {}))
    photo.update(read_extensions(terms, terms.groups["photo"], resource))
    if not photo:
        return False
    ordered = {key: photo[key] for key in terms.groups["photo"] if key in photo}
    return source.append(spot.entry, "photos", ordered, resource, f"{spot.place}/photo")
