"""What an item of the form offers: units, limits, options, and how they are shown."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from woundfhir.catalogue import AnswerList, Coding, Concept, Labels, Word
from woundfhir.definitions.form_texts import translated
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.fhir.shapes.base import unit_option

Json = Any
_CORE = "http://hl7.org/fhir/StructureDefinition/"
#: How the addresses of HL7 SDC's extensions begin.
SDC = "http://hl7.org/fhir/uv/sdc/StructureDefinition/sdc-questionnaire-"
EXTRACT = f"{SDC}observationExtract"
_CONTROLS = "http://hl7.org/fhir/questionnaire-item-control"
#: How many options are shown side by side; more of them stand in a list that opens.
_BUTTONS = 6


def extensions(concept: Concept) -> Iterator[dict[str, Json]]:
    """Yield the extensions of a question: units, limits, whether an Observation is made of its answer."""
    shape = fhir_shape(concept)
    units = shape.item_units(concept)
    for unit in units:
        yield unit_extension(unit)
    low, high = shape.item_limits(concept)
    for url, limit in (("minValue", low), ("maxValue", high)):
        if limit is None:
            continue
        if len(units) > 1 and Decimal(limit) != 0:  # it is one of its own unit
            own = unit_option(str(concept.unit))
            amount = {"value": _number(limit), "unit": own["display"], "system": own["system"], "code": own["code"]}
            yield {"url": SDC + url.replace("Value", "Quantity"), "valueQuantity": amount}
        else:
            kind = "valueInteger" if shape.item_type(concept) == "integer" else "valueDecimal"
            yield {"url": _CORE + url, kind: _number(limit)}
    observed = concept.resource in ("observation", "component") and concept.native is None and not concept.is_group
    if observed and concept.codings and concept.group in ("client", "assessment", "plan"):
        yield {"url": EXTRACT, "valueBoolean": True}


def _number(text: str) -> Json:
    number = Decimal(text)
    return int(number) if number == int(number) else float(number)


def shown_as(concept: Concept, options: AnswerList | None) -> list[Json]:
    """Return how options are shown: boxes where several may be chosen, buttons for a few, else a list that opens."""
    if options is None:
        return []
    if fhir_shape(concept).spread == "each":
        return [control("check-box")]
    return [control("radio-button" if len(options.by_code) <= _BUTTONS else "drop-down")]


def control(code: str) -> dict[str, Json]:
    """Return the extension that says how an item is shown; the code is one of R4's questionnaire-item-control."""
    concept = {"coding": [{"system": _CONTROLS, "code": code}]}
    return {"url": f"{_CORE}questionnaire-itemControl", "valueCodeableConcept": concept}


def unit_extension(unit: str) -> dict[str, Json]:
    """Return the extension that offers a unit."""
    return {"url": f"{_CORE}questionnaire-unitOption", "valueCoding": dict(unit_option(unit))}


def options_of(answers: AnswerList | None) -> dict[str, Json]:
    """Return the words of a list as options, each by its first code; of words that share a code the first."""
    if answers is None:
        return {}
    found: dict[Coding, Word] = {}
    for word in answers.words:
        found.setdefault(word.codings[0], word)
    return {"answerOption": [option(coding, word.word, word.labels) for coding, word in found.items()]}


def option(coding: Coding, text: str, labels: Labels) -> dict[str, Json]:
    """Return an option in the words of a nurse; the display that its code system gives stands in the value set."""
    return {"valueCoding": {"system": coding.system, "code": coding.code, **translated("display", text, labels)}}
