"""The Questionnaire of one wound at one visit, one item for each concept.

Observation-based extraction: HL7 SDC, ``sdc-questionnaire-observationExtract`` in its boolean form. No item is
required and none has a default: gaps are judged by ``check``, and nothing is written that nobody said.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from woundfhir.catalogue import AnswerList, Coding, Concept, Labels, Word, frame
from woundfhir.catalogue.translation import translations
from woundfhir.definitions.definition import COPYRIGHT, head
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.fhir.terms import Terms
from woundfhir.language import speaking

Json = Any
EXTRACT = "http://hl7.org/fhir/uv/sdc/StructureDefinition/sdc-questionnaire-observationExtract"
_UNIT = "http://hl7.org/fhir/StructureDefinition/questionnaire-unitOption"
_LOW = "http://hl7.org/fhir/StructureDefinition/minValue"
_HIGH = "http://hl7.org/fhir/StructureDefinition/maxValue"
TRANSLATION = "http://hl7.org/fhir/StructureDefinition/translation"
_UCUM = "http://unitsofmeasure.org"

_GROUPS = {
    "visit": "Visit", "wound": "Wound", "client": "Client", "assessment": "Assessment", "care": "Dressing change",
    "supply": "Supplies", "plan": "Plan",
}  # fmt: skip
#: Part of the form -> part of the record's frame, and a key of it.
_FRAMED = {
    "visit": ("visit", ""), "wound": ("wound", ""), "client": ("patient", ""), "assessment": ("entry", "assessment"),
    "care": ("entry", "care"), "supply": ("entry", "supplies"), "plan": ("entry", "plan"),
}  # fmt: skip
#: Conditions of the catalogue under which a question makes sense at all -> tag of the wound kinds it is for.
_KINDS = {"pressure injury": "pressure", "skin tear": "skin tear", "burn": "burn", "diabetic foot": "diabetic foot"}
#: Conditions -> the questions that one of must be answered, with another word than none.
_ANSWERED = {
    "size written": ("assessment.length", "assessment.width", "assessment.depth"),
    "exudate written": ("assessment.exudate_amount",),
    "exudate present": ("assessment.exudate_amount",),
    "skin changed": ("assessment.periwound",),
}
_NOT_NONE = frozenset(("exudate present",))


def questionnaire(terms: Terms) -> dict[str, Json]:
    """Return the Questionnaire."""
    made = head(
        "Questionnaire",
        "wound-visit",
        "One wound at one visit",
        "What a wound care note holds: the wound, its assessment, the dressing change, supplies and plan.",
        terms,
    )
    made["copyright"] = COPYRIGHT
    made["subjectType"] = ["Patient"]
    made["item"] = [_group(terms, group, title) for group, title in _GROUPS.items()]
    return made


def _group(terms: Terms, group: str, title: str) -> dict[str, Json]:
    concepts = terms.catalogue.groups[group].values()
    made: dict[str, Json] = {"linkId": group, **_said("text", title, _titles(group)), "type": "group"}
    if group == "assessment":
        made["code"] = [terms.coding("panel").fhir()]
    if group == "supply":
        made["repeats"] = True
    made["item"] = [item for concept in concepts for item in _items(terms, concept)]
    return made


def _items(terms: Terms, concept: Concept) -> Iterator[dict[str, Json]]:
    shape = fhir_shape(concept)
    made: dict[str, Json] = {"linkId": concept.path}
    if extensions := list(_extensions(concept)):
        made["extension"] = extensions
    if concept.codings:
        made["code"] = [coding.fhir() for coding in concept.codings]
    made |= _said("text", concept.question, concept.asked_as or concept.labels)
    made["type"] = shape.item_type(concept)
    if when := _enable(terms, concept):
        made["enableWhen"], made["enableBehavior"] = when
    if shape.spread in ("each", "shares") or concept.many:
        made["repeats"] = True
    if shape.spread == "shares":
        yield _share(made, concept, terms)
        return
    if concept.is_group:
        made["item"] = [item for field in concept.fields.values() for item in _items(terms, field)]
    elif made["type"] == "open-choice":
        made.update(_options(shape.options(concept, terms.catalogue)))
    yield made


def _share(made: dict[str, Json], concept: Concept, terms: Terms) -> dict[str, Json]:
    """A share: a repeating group of a word and its percentage."""
    percent = terms.share_part.concept
    word: dict[str, Json] = {
        "linkId": f"{concept.path}.word",
        **_said("text", concept.label, concept.labels),
        "type": "open-choice",
        **_options(concept.answers),
    }
    for key in ("extension", "code"):
        if key in made:
            word = {"linkId": word.pop("linkId"), key: made.pop(key), **word}
    amount: dict[str, Json] = {
        "linkId": f"{concept.path}.share",
        "extension": [_unit("%")],
        "code": [coding.fhir() for coding in percent.codings],
        **_said("text", percent.question, percent.asked_as),
        "type": "quantity",
    }
    return {**made, "type": "group", "item": [word, amount]}


def _extensions(concept: Concept) -> Iterator[dict[str, Json]]:
    shape = fhir_shape(concept)
    for unit in shape.item_units(concept):
        yield _unit(unit)
    for url, limit in zip((_LOW, _HIGH), shape.item_limits(concept), strict=True):
        if limit is not None:
            yield {"url": url, "valueInteger": int(limit)}
    said = concept.resource in ("observation", "component") and concept.native is None and not concept.is_group
    if said and concept.codings and concept.group in ("client", "assessment", "plan"):
        yield {"url": EXTRACT, "valueBoolean": True}


def _unit(unit: str) -> dict[str, Json]:
    return {"url": _UNIT, "valueCoding": {"system": _UCUM, "code": unit, "display": unit}}


def _options(answers: AnswerList | None) -> dict[str, Json]:
    """The words of a list as options, each by its first code; a word that shares a code with another stands once."""
    if answers is None:
        return {}
    found: dict[Coding, Word] = {}
    for word in answers.words:
        found.setdefault(word.codings[0], word)
    return {"answerOption": [{"valueCoding": _coding(coding, word)} for coding, word in found.items()]}


def _coding(coding: Coding, word: Word) -> dict[str, Json]:
    made = {"display": word.word, **coding.fhir()}
    return {**made, **_said("display", made["display"], word.labels)}


def _said(element: str, text: str, others: Labels) -> dict[str, Json]:
    """A text, and the same in other languages (the standard extension ``translation``)."""
    told = [
        {"url": TRANSLATION, "extension": [{"url": "lang", "valueCode": tag}, {"url": "content", "valueString": said}]}
        for tag, said in others
    ]
    return {element: text, **({f"_{element}": {"extension": told}} if told else {})}


def _titles(group: str) -> Labels:
    """The title of a part of the form in other languages, by the words of the record's frame."""
    found = []
    for language in translations().values():
        with speaking(language.language):
            parts = frame().parts
            part, key = _FRAMED[group]
            found.append((language.language.code, parts[part].keys[key].label if key else parts[part].title))
    return tuple(found)


def _enable(terms: Terms, concept: Concept) -> tuple[list[Json], str] | None:
    """Return when an item is shown: only questions that have no sense otherwise are ever hidden."""
    for condition in concept.when:
        if condition in _KINDS:
            return [_is(terms, coding) for coding in _kinds(terms, _KINDS[condition])], "any"
        if condition in _ANSWERED:
            clauses = [{"question": path, "operator": "exists", "answerBoolean": True} for path in _ANSWERED[condition]]
            if condition in _NOT_NONE:
                none = terms.coding("none").fhir()
                clauses += [{"question": p, "operator": "!=", "answerCoding": none} for p in _ANSWERED[condition]]
            return clauses, "all" if condition in _NOT_NONE else "any"
    return None


def _kinds(terms: Terms, tag: str) -> list[Coding]:
    kind = _kind(terms)
    words = kind.answers.words if kind.answers else ()
    return list(dict.fromkeys(word.codings[0] for word in words if tag in word.tags))


def _kind(terms: Terms) -> Concept:
    return next(t.concept for t in terms.groups["wound"].values() if t.concept.native == "code")


def _is(terms: Terms, coding: Coding) -> dict[str, Json]:
    return {"question": _kind(terms).path, "operator": "=", "answerCoding": coding.fhir()}
