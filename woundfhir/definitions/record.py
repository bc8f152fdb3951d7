"""Profiles of the client, the people, the visit, the wound, photos, and the documents that carry them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from woundfhir.definitions.definition import profile
from woundfhir.definitions.differential import FHIR, PATIENT, Differential, carried, pattern
from woundfhir.fhir.term import Term, slug
from woundfhir.fhir.terms import Terms

Json = Any
#: HL7's R4 extension by which a resource points at a BodyStructure.
_BODY = FHIR + "bodySite"


def profiles(terms: Terms) -> Iterator[dict[str, Json]]:
    """Yield the profiles of everything around assessment and care."""
    yield from _people(terms)
    yield from _client(terms)
    yield _visit(terms)
    yield _amendment(terms)
    yield _wound(terms)
    yield _place(terms)
    yield _photo(terms)
    yield _kept(terms)


def _people(terms: Terms) -> Iterator[dict[str, Json]]:
    role = Differential("PractitionerRole")
    role.element("identifier", min=1)
    yield profile(
        "practitioner-role", "Author", "Who gave the care and wrote the note, in which function.", role, terms
    )
    person = Differential("Practitioner")
    person.extension("author-id")
    person.element("identifier", min=1)
    yield profile("practitioner", "Author as a person", "Who gave the care and wrote the note.", person, terms)
    house = Differential("Organization")
    house.element("identifier", min=1)
    house.element("name", min=1)
    yield profile("organization", "Organisation of the author", "Where the author works.", house, terms)


def _client(terms: Terms) -> Iterator[dict[str, Json]]:
    client = Differential("Patient")
    client.extension("zone")
    client.extension("note")
    yield profile("patient", "Client", "The person whose wounds are charted.", client, terms)
    allergy = Differential("AllergyIntolerance")
    allergy.element("identifier", min=1)
    yield profile("allergy", "Allergy", "An allergy, that none is known, or why nothing is known.", allergy, terms)
    other = Differential("Condition")
    other.element("identifier", min=1)
    other.element("code", min=1)
    yield profile(
        "health-condition", "Health condition", "A condition that is no wound, in the words of the note.", other, terms
    )
    team = Differential("CareTeam")
    team.element("identifier", min=1)
    team.element("subject", min=1, type=PATIENT)
    yield profile(
        "contact", "Whom to call", "Who answers questions about the wound care, with the number.", team, terms
    )


def _concept_extensions(terms: Terms, made: Differential, group: str) -> None:
    for term in terms.groups[group].values():
        if carried(term.concept):
            most = "*" if term.shape.spread == "each" else "1"
            made.extension(f"{group}-{slug(term.concept.key)}", most=most, short=term.concept.label)


def _visit(terms: Terms) -> dict[str, Json]:
    made = Differential("Encounter")
    for name in ("note-status", "written", "note"):
        made.extension(name)
    _concept_extensions(terms, made, "visit")
    made.element("identifier", min=1)
    kind = next((t for t in terms.groups["visit"].values() if t.concept.native == "type"), None)
    made.element("type", **(made.bound(kind.concept.answers) if kind else {}))
    made.element("subject", min=1, type=PATIENT)
    return profile(
        "visit", "Visit", "One visit: when it was, when its note was written, and the state of that note.", made, terms
    )


def _amendment(terms: Terms) -> dict[str, Json]:
    made = Differential("Provenance")
    made.reference("target", "visit", max="1")
    made.element("entity", min=1, max="1")
    made.element("entity.role", patternCode="revision")
    made.reference("entity.what", "visit")
    return profile(
        "amendment", "Amended note", "Which visit's note an amended note takes the place of, and why.", made, terms
    )


def _native(terms: Terms, group: str) -> dict[str, Term]:
    return {term.concept.native: term for term in terms.groups[group].values() if term.concept.native}


def _wound(terms: Terms) -> dict[str, Json]:
    made, native = Differential("Condition"), _native(terms, "wound")
    _concept_extensions(terms, made, "wound")
    made.element(
        "extension:place", min=0, max="1", type=[{"code": "Extension", "profile": [_BODY]}], short="The precise place"
    )
    made.element("identifier", min=1)
    made.category(terms.coding("wound_category"))
    made.element("code", **made.bound(native["code"].concept.answers))
    made.element("bodySite", max="1", **made.bound(native["bodySite"].concept.answers))
    made.extension("body-side", at="bodySite")
    made.element("subject", type=PATIENT)
    made.element("onset[x]", type=[{"code": "dateTime"}, {"code": "string"}])
    made.element("abatement[x]", type=[{"code": "dateTime"}, {"code": "string"}])
    made.element("stage", max="1")
    made.element("stage.summary", min=1, **made.bound(native["stage"].concept.answers))
    return profile(
        "wound",
        "Wound",
        "One wound for as long as it lasts. Every assessment and every dressing change points at it.",
        made,
        terms,
    )


def _place(terms: Terms) -> dict[str, Json]:
    made, native = Differential("BodyStructure"), _native(terms, "wound")
    made.element("identifier", min=1)
    made.element("location", **made.bound(native["bodySite"].concept.answers))
    made.element("locationQualifier", max="1", **made.bound(native["side"].concept.answers))
    return profile(
        "wound-place", "Precise place of a wound", "The place of a wound in the words of the nurse.", made, terms
    )


def _photo(terms: Terms) -> dict[str, Json]:
    made = Differential("DocumentReference")
    _concept_extensions(terms, made, "photo")
    made.element("identifier", min=1)
    made.element("type", min=1, patternCodeableConcept=pattern([terms.coding("photo")]))
    made.element("subject", min=1, type=PATIENT)
    made.element("content", max="1")
    made.element("context", min=1)
    made.reference("context.encounter", "visit", min=1, max="1")
    made.reference("context.related", "wound", max="1")
    return profile(
        "photo",
        "Photo of a wound",
        "A photo with its file, hash and size; the picture may stay where it is.",
        made,
        terms,
    )


def _kept(terms: Terms) -> dict[str, Json]:
    made = Differential("Basic")
    made.extension("kept-item", most="*")
    made.element("identifier", min=1)
    made.element("code", patternCodeableConcept=pattern([terms.coding("kept_items")]))
    made.element("subject", min=1, type=PATIENT)
    return profile("kept", "Kept as received", "What came in and was not understood, word for word.", made, terms)
