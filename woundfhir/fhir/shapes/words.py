"""Shapes whose answers are words: free text, words of a list, an hour of the clock face, yes and no."""

from __future__ import annotations

from typing import Any

from woundfhir.catalogue import AnswerList, Catalogue, Concept
from woundfhir.fhir.codecs import Codec, FlagCodec, Reasons, WordCodec
from woundfhir.fhir.shapes.base import FhirShape, is_display

Json = Any


class Text(FhirShape):
    """Words <-> string."""

    name = "text"


class _Words(FhirShape):
    """What all shapes with words of a list share."""

    types = ("CodeableConcept",)
    item = "open-choice"

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        return WordCodec(self.options(concept, known), reasons)

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> dict[str, Json] | None:
        return write_option(self.options(concept, known), answer) or {"valueString": answer}


def write_option(answers: AnswerList | None, answer: str) -> dict[str, Json] | None:
    """Return an answer as an option of its list; None for words that no option stands for alone."""
    word = answers.find(answer) if answers else None
    if answers is None or word is None or not word.codings or answers.by_code.get(word.codings[0].key) is not word:
        return None
    if is_display(word, answer):  # in that spelling it would be read as the code's, and not as the nurse's own
        return None
    return {"valueCoding": {**word.codings[0].fhir(), "display": answer}}


class Choice(_Words):
    """A word <-> CodeableConcept."""

    name = "choice"


class Choices(_Words):
    """Several words <-> one CodeableConcept each."""

    name = "choices"
    spread = "each"


class Share(_Words):
    """Words with their shares <-> one CodeableConcept each, the share in a component."""

    name = "share"
    spread = "shares"


class Clock(_Words):
    """An hour of the clock face <-> CodeableConcept."""

    name = "clock"

    def options(self, concept: Concept, known: Catalogue) -> AnswerList | None:
        return known.answers["clock"]


class Flag(FhirShape):
    """yes or no <-> boolean."""

    name = "flag"
    types = ("boolean", "string")
    #: A choice of yes and no: a box that is not ticked would say no where nobody answered.
    item = "open-choice"

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        return FlagCodec(reasons, known.answers["yes_no"])

    def offered(self, concept: Concept, known: Catalogue) -> AnswerList | None:
        return known.answers["yes_no"]

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> dict[str, Json] | None:
        option = write_option(known.answers["yes_no"], answer) if answer in ("yes", "no") else None
        return option or {"valueString": answer}
