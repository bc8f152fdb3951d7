"""Definitions of our own extensions: one for each concept that R4 has no element for, and the record's own few."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from woundfhir.catalogue import BASE
from woundfhir.definitions.definition import extension
from woundfhir.definitions.differential import Differential, carried
from woundfhir.definitions.observations import value
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms

Json = Any
_ON = {"wound": "Condition", "visit": "Encounter", "supply": "SupplyDelivery", "photo": "DocumentReference"}


class _Plain(NamedTuple):
    """An extension that holds one value."""

    name: str
    title: str
    about: str
    contexts: tuple[str, ...]
    type: str
    target: str = ""


_PLAIN = (
    _Plain("as-written", "As written", "What was written, where the element cannot say it.", ("Element",), "string"),
    _Plain("zone", "Time zone of the record", "The zone of clock times without an offset.", ("Patient",), "string"),
    _Plain("note", "Note", "Free text of the record that has no element.", ("Patient", "Encounter"), "string"),
    _Plain("author-id", "Own id of the author", "The id their organisation gave them.", ("Practitioner",), "string"),
    _Plain("note-status", "State of the note", "amended: in the place of an earlier note.", ("Encounter",), "code"),
    _Plain("written", "Written at", "When the note was written, if not at the visit.", ("Encounter",), "dateTime"),
    _Plain("kept-item", "Kept item", "One thing that was not understood, as JSON text.", ("Basic",), "string"),
    _Plain("method", "Method", "How the value was found.", ("Observation.component",), "CodeableConcept"),
    _Plain("position", "Position", "Where it stands in a list of the record.", ("Identifier",), "positiveInt"),
    _Plain("supply-visit", "Visit", "The visit it was used or left at.", ("SupplyDelivery",), "Reference", "visit"),
    _Plain("supply-wound", "Wound", "The wound that it was used for.", ("SupplyDelivery",), "Reference", "wound"),
    _Plain(
        "supply-procedure", "Dressing change of a supply", "The dressing change at which it was used.",
        ("SupplyDelivery",), "Reference", "dressing-change",
    ),
)  # fmt: skip


def definitions(terms: Terms) -> Iterator[dict[str, Json]]:
    """Yield every extension of ours."""
    yield _coded(terms, "absent", "Why it is missing", "Why an answer is missing.", ["Element"], "absent_reason")
    side = next(t.concept for t in terms.groups["wound"].values() if t.concept.native == "side")
    assert side.answers is not None
    yield _coded(
        terms, "body-side", "Side of the body", "The side of the body.", ["CodeableConcept"], side.answers.key, True
    )
    for plain in _PLAIN:
        yield _plain(terms, plain)
    yield from of_site(terms, BASE)


def of_site(terms: Terms, base: str) -> Iterator[dict[str, Json]]:
    """Yield the extensions of the data elements under a base: ours, or a site's own."""
    for group, kind in _ON.items():
        for term in terms.groups[group].values():
            if carried(term.concept) and term.concept.base == base:
                yield _concept(terms, term, kind)
    for term in terms.groups["care"].values():
        for field in term.fields.values() if term.shape.spread == "step" else ():
            if field.concept.native != "used" and field.concept.base == base:
                yield _concept(terms, field, "Procedure")


def _start(terms: Terms, name: str, inner: bool) -> Differential:
    made = Differential("Extension")
    if inner:
        made.extension("absent")
    else:
        made.element("extension", max="0")
    made.element("url", fixedUri=terms.ext(name, terms.catalogue.bases[-1]))
    return made


def _plain(terms: Terms, plain: _Plain) -> dict[str, Json]:
    made = _start(terms, plain.name, inner=False)
    kind: Json = {"code": plain.type}
    if plain.target:
        kind["targetProfile"] = [made.url(plain.target)]
    made.element("value[x]", min=1, type=[kind])
    return extension(plain.name, plain.title, plain.about, list(plain.contexts), made, terms)


def _coded(
    terms: Terms, name: str, title: str, about: str, contexts: list[str], answers: str, inner: bool = False
) -> dict[str, Json]:
    made = _start(terms, name, inner)
    known = terms.catalogue.answers[answers]
    made.element("value[x]", min=1, type=[{"code": "CodeableConcept"}], **made.bound(known))
    return extension(name, title, about, contexts, made, terms)


def _concept(terms: Terms, term: Term, kind: str) -> dict[str, Json]:
    """A concept's answer, or inside it the reason why there is none."""
    concept, name = term.concept, term.url.rpartition("/")[2]
    made = _start(terms, name, inner=True)
    made.element("value[x]", **value(terms, made, concept))
    label = f"{term.parent.label}: {concept.label.lower()}" if term.parent else concept.label
    return extension(name, label, f"{concept.label}. Question: {concept.question}", [kind], made, terms)
