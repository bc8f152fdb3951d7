"""Concepts that R4 has no element for, as one documented extension each, both directions side by side."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import find_extension
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms

Json = Any


def write_extension(term: Term, answer: Json) -> list[Json]:
    """Return the extensions that say one answer: one each for the words of ``choices``."""
    return [term.extension(one) for one in (answer if answer.__class__ is list else (answer,))]


def read_extension(terms: Terms, term: Term, holder: Mapping[str, Json]) -> Json:
    """Return the answer that a resource's extensions say to one concept, or None."""
    found = [e for e in holder.get("extension", ()) if e.get("url") == term.url]
    if not found:
        return None
    if "extension" in found[0] and (missing := find_extension(found[0], terms.ext("absent"))):
        return terms.reasons.read(missing.get("valueCodeableConcept"))
    if len(found) == 1 and term.shape.spread != "each":
        return term.codec.read(found[0])
    answers = [answer for one in found if (answer := term.codec.read(one)) is not None]
    if term.shape.spread == "each":
        return answers or None
    return answers[0] if answers else None


def urls(holder: Mapping[str, Json]) -> set[Json]:
    """Return the URLs of a resource's extensions."""
    return {one.get("url") for one in holder["extension"]} if "extension" in holder else set()


def write_extensions(group: Mapping[str, Term], answers: Mapping[str, Json]) -> list[Json]:
    """Return the extensions of every answer of a group that has no element of its own."""
    out: list[Json] = []
    for key, answer in answers.items():
        if (term := group.get(key)) is not None and term.concept.native is None:
            out += write_extension(term, answer)
    return out


def read_extensions(terms: Terms, group: Mapping[str, Term], holder: Mapping[str, Json]) -> dict[str, Json]:
    """Return the answers that a resource's extensions say to a group."""
    said = urls(holder)
    here = ((key, term) for key, term in group.items() if term.url in said and term.concept.native is None)
    found = {key: read_extension(terms, term, holder) for key, term in here}
    return {key: value for key, value in found.items() if value is not None}
