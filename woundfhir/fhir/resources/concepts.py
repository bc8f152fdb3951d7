"""A CodeableConcept as words, or as the reason why something is missing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import extension, find_extension

Json = Any


def absent_concept(terms: Json, answer: Mapping[str, str]) -> dict[str, Json]:
    """Return a CodeableConcept that says only why it is missing."""
    return {"extension": [extension(terms.ext("absent"), "valueCodeableConcept", terms.reasons.concept(answer))]}


def read_absent(terms: Json, concept: Json) -> dict[str, str] | None:
    """Turn ``absent_concept`` back."""
    found = find_extension(concept, terms.ext("absent"))
    return terms.reasons.read(found["valueCodeableConcept"]) if found and "valueCodeableConcept" in found else None


def words_of(concept: Json) -> str | None:
    """Return the words of a CodeableConcept: its text, else the first display."""
    if not isinstance(concept, Mapping):
        return None
    return concept.get("text") or next((c["display"] for c in concept.get("coding", ()) if "display" in c), None)
