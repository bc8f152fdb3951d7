"""The items of the form that stand beside the questions of the catalogue, and where each question stands.

One question has one item, its linkId the path of the concept. What its type cannot hold stands in items next to it,
visible and plain: why there is no answer (``:why``), the answer in words (``:words``), whether there is any of it
(``:any``), anything else (``:note``). The Questionnaire and both directions of a response are made from this module.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from woundfhir.catalogue import Coding, Concept
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.fhir.term import slug
from woundfhir.fhir.terms import Terms

Json = Any
#: The name of the form: the end of the address of its Questionnaire.
NAME = "wound-visit"
WHY, WORDS, ANY, NOTE, MORE = ":why", ":words", ":any", ":note", ":more"
#: Parts of the form in their order; the part ``supply`` repeats.
SECTIONS = ("visit", "wound", "client", "assessment", "care", "supply", "plan")
#: Keys of the record's frame that a part holds: those before its questions, and those behind them.
BEFORE: Mapping[str, tuple[str, ...]] = {
    "visit": ("id", "at", "written", "replaces", "replaces_reason"), "wound": ("id", "status"),
}  # fmt: skip
BEHIND: Mapping[str, tuple[str, ...]] = {"visit": ("note",), "wound": ("note",), "plan": ("note",)}
#: Keys of the author, in a group of the visit.
AUTHOR = ("id", "name", "designation", "organisation")
BY = "visit:by"
ENTRY_NOTE = "entry:note"
SUPPLIES = f"supply{ANY}"
#: The reason for which nobody says whether there is any, as a code of data-absent-reason.
NOT_LOOKED = "not-performed"

#: Conditions of the catalogue under which a question makes sense at all -> tag of the wound kinds it is for.
KINDS = {"pressure injury": "pressure", "skin tear": "skin tear", "burn": "burn", "diabetic foot": "diabetic foot"}
#: Conditions -> the questions that one of must be answered, with another word than none.
ANSWERED = {
    "size written": ("assessment.length", "assessment.width", "assessment.depth"),
    "exudate written": ("assessment.exudate_amount",),
    "exudate present": ("assessment.exudate_amount",),
    "skin changed": ("assessment.periwound",),
}
NOT_NONE = frozenset(("exudate present",))

#: What a wound's status is in FHIR: R4's own codes of a Condition.
_CLINICAL = "http://terminology.hl7.org/CodeSystem/condition-clinical"
_VERIFIED = "http://terminology.hl7.org/CodeSystem/condition-ver-status"
STATUS: Mapping[str, Coding] = {
    "open": Coding(_CLINICAL, "active", "Active"),
    "closed": Coding(_CLINICAL, "resolved", "Resolved"),
    "entered in error": Coding(_VERIFIED, "entered-in-error", "Entered in Error"),
}


def framed(group: str, key: str) -> str:
    """Return the linkId of a key of the frame."""
    return f"{group}:{key}"


def wrapper(group: str, condition: str) -> str:
    """Return the linkId of the group that is shown where a condition holds."""
    return f"{group}:if-{slug(condition.replace(' ', '-'))}"


def is_set(concept: Concept) -> bool:
    """Whether its item is a group: fields, or a word with its share."""
    return concept.is_group or fhir_shape(concept).spread == "shares"


def condition(concept: Concept) -> str | None:
    """Return the condition under which its question is shown; None for what is always shown."""
    if is_set(concept) or concept.of is not None:
        return None
    return next((name for name in concept.when if name in KINDS or name in ANSWERED), None)


def required(concept: Concept) -> bool:
    """Whether the form can hold somebody to an answer: where all that the checklist makes it hang on is in the form."""
    return concept.role == "required" and set(concept.when) <= {"always", "visit", condition(concept)}


def beside(concept: Concept) -> tuple[str, ...]:
    """Return which items stand beside its own, those before it first."""
    if fhir_shape(concept).spread == "shares":
        return ANY, WORDS, WHY
    if concept.is_group:
        return ANY, WHY
    typed = not concept.answers and fhir_shape(concept).item not in ("text", "open-choice")
    return (WORDS, WHY) if typed or condition(concept) else (WHY,)


def reasons_first(concepts: Iterable[Concept]) -> bool:
    """Whether what stands beside questions stands before them: a question that must be answered hangs on it."""
    return any(required(concept) for concept in concepts)


def laid_out(concepts: Iterable[Concept]) -> Iterator[tuple[str | None, list[Concept]]]:
    """Yield the questions of a part in their order: those of one condition together, where the first of them stands."""
    found: dict[str, list[Concept]] = {}
    for concept in concepts:
        found.setdefault(condition(concept) or concept.path, []).append(concept)
    for concepts_of in found.values():
        yield condition(concepts_of[0]), concepts_of


def kind_of_wound(terms: Terms) -> Concept:
    """Return the concept that says what kind of wound it is."""
    return next(term.concept for term in terms.groups["wound"].values() if term.concept.native == "code")


def kinds(terms: Terms, name: str) -> list[Coding]:
    """Return the codes of the kinds of wound that a condition is about."""
    answers = kind_of_wound(terms).answers
    words = answers.words if answers else ()
    return list(dict.fromkeys(word.codings[0] for word in words if KINDS[name] in word.tags))
