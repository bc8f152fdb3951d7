"""DocumentReference: a photo, with its file, hash and size; the picture itself stays where it is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import first, unknown
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources.extensions import read_extension, read_extensions, write_extension, write_extensions
from woundfhir.fhir.terms import Terms, has_code
from woundfhir.fhir.write_context import Resource, VisitContext
from woundfhir.record import dates

Json = Any
#: Members of Attachment in R4's order, and the codec of each.
_ATTACHMENT = ("contentType", "data", "url", "size", "hash", "title", "creation")


def write_photos(context: VisitContext, entry: Mapping[str, Json]) -> None:
    """Write the photos of one wound at one visit."""
    out, terms = context.out, context.out.terms
    for index, photo in enumerate(entry.get("photos", ()), 1):
        place = f"{context.place}/photo/{index}"
        made = out.head("DocumentReference", place, terms.meta("photo"))
        attachment, beside = _write_attachment(terms, photo)
        if extensions := write_extensions(terms.groups["photo"], photo) + beside:
            made["extension"] = extensions
        made["identifier"] = out.identifier(place)
        made["status"] = "entered-in-error" if context.status == "entered-in-error" else "current"
        made["type"] = terms.cc["photo"]
        made["subject"] = out.patient
        if context.author is not None:
            made["author"] = [context.author]
        made["content"] = [{"attachment": attachment}]
        about: dict[str, Json] = {"encounter": [context.encounter]}
        if context.focus is not None:
            about["related"] = context.focus
        made["context"] = about
        out.add(made)


def _write_attachment(terms: Terms, photo: Mapping[str, Json]) -> tuple[dict[str, Json], list[Json]]:
    """Return the Attachment, and as extensions the answers that it cannot hold: other words, absent reasons."""
    native = terms.native["photo"]
    made: dict[str, Json] = {}
    beside: list[Json] = []
    for name in _ATTACHMENT:
        answer = photo.get(native[name].concept.key) if name in native else None
        if answer is None:
            continue
        if _holds(name, answer) and (name != "data" or "contentType" in made):  # att-1: data needs its type.
            made[name] = int(answer) if name == "size" else answer
        else:
            beside.extend(write_extension(native[name], answer))
    return made or unknown(), beside


def _holds(name: str, answer: Json) -> bool:
    """Whether an element of Attachment can hold an answer as it is (R4: url, base64Binary, unsignedInt, dateTime)."""
    if not isinstance(answer, str):
        return False
    if name == "creation":
        return dates.is_fhir(answer)
    pattern = _FORMS.get(name)
    return pattern is None or pattern.fullmatch(answer) is not None


_BASE64 = re.compile(r"(?:[A-Za-z0-9+/]{4})*(?:[A-Za-z0-9+/]{2}==|[A-Za-z0-9+/]{3}=|[A-Za-z0-9+/]{4})")
_FORMS = {
    "contentType": re.compile(r"\S+/\S+"),
    "url": re.compile(r"\S+"),
    "size": re.compile(r"[1-9][0-9]{0,8}"),
    "hash": _BASE64,
    "data": _BASE64,
}


def _read_attachment(terms: Terms, resource: Resource) -> dict[str, Json]:
    attachment = first(resource.get("content")).get("attachment", {})
    found: dict[str, Json] = {}
    for name, term in terms.native["photo"].items():
        answer: Json = read_extension(terms, term, resource)
        if answer is None:
            answer = attachment.get(name)
        if answer is not None:
            found[term.concept.key] = str(answer) if isinstance(answer, int) else answer
    return found


def read(source: ReadContext, resource: Resource, spot: RecordPlace) -> bool:
    """Put one DocumentReference of a photo into the photos of its spot."""
    terms = source.terms
    if not has_code(resource.get("type"), terms.code_key("photo")):
        return False
    photo = _read_attachment(terms, resource)
    photo.update(read_extensions(terms, terms.groups["photo"], resource))
    if not photo:
        return False
    ordered = {key: photo[key] for key in terms.groups["photo"] if key in photo}
    return source.append(spot.entry, "photos", ordered, resource, f"{spot.place}/photo")
