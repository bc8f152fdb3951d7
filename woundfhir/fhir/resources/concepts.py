"""A CodeableConcept as words, or as the reason why something is missing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import extension, find_extension
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import code_keys

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


def answer_concept(terms: Json, term: Term, answer: Json) -> Json:
    """Return a CodeableConcept that says a word, or why there is none."""
    return absent_concept(terms, answer) if isinstance(answer, dict) else dict(term.codec.write(answer)[1])


def read_answer(terms: Json, term: Term, concept: Json) -> Json:
    """Turn ``answer_concept`` back."""
    return read_absent(terms, concept) or term.codec.read({"valueCodeableConcept": concept})


def word_in_code(term: Term, concept: Json) -> str | None:
    """Return the answer that a code says, beside what else it says; None where no code is one of the list."""
    listed = term.concept.answers
    found = (listed.by_code.get(key) for key in code_keys(concept)) if listed is not None else iter(())
    return next((word.word for word in found if word is not None), None)
