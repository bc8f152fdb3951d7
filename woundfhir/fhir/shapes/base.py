"""What every shape of answer does in FHIR. Its other half, in the record, stands in ``woundfhir.record.shapes``."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, ClassVar, Literal

from woundfhir.catalogue import AnswerList, Catalogue, Concept, Word, catalogue
from woundfhir.fhir.codecs import Codec, Reasons, TextCodec, read_quantity
from woundfhir.language import ENGLISH, speaking
from woundfhir.record import quantity
from woundfhir.record.spoken import unit_words

Json = Any


#: Into what an answer goes: one value; one value for each of its words; one for each word with its share beside it;
#: one for each set of fields; a Procedure with its details.
Spread = Literal["one", "each", "shares", "group", "step"]


class FhirShape:
    """One shape of answer in FHIR.

    Attributes
    ----------
    name
        As the catalogue writes it.
    spread
        Into what an answer goes.
    types
        The types of ``value[x]`` that the codec writes.
    item
        The type of the form's item (R4, item-type).
    """

    name: ClassVar[str]
    spread: ClassVar[Spread] = "one"
    types: ClassVar[tuple[str, ...]] = ("string",)
    item: ClassVar[str] = "text"

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        """Return both directions of one value; shapes made of several use it for each of them."""
        return TextCodec(reasons)

    def item_type(self, concept: Concept) -> str:
        """Return the type of the form's item."""
        return self.item

    def options(self, concept: Concept, known: Catalogue) -> AnswerList | None:
        """Return the words to choose from: the value set of the profile, and the options of the form's item."""
        return concept.answers

    def offered(self, concept: Concept, known: Catalogue) -> AnswerList | None:
        """Return the options of the form's item."""
        return self.options(concept, known)

    def item_units(self, concept: Concept) -> tuple[str, ...]:
        """Return the units that the form's item offers, by their UCUM codes."""
        return ()

    def item_limits(self, concept: Concept) -> tuple[str | None, str | None]:
        """Return the smallest and the largest number that the form's item takes, in its first unit."""
        return None, None

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> dict[str, Json] | None:
        """Return the typed value of the form's item; None where no such value says all of the answer."""
        return {"valueString": answer}

    def read_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: Mapping[str, Json]) -> Json:
        """Return the answer that an item of the form gives; any type is read, whichever the form asked for."""
        for key in ("valueString", "valueDate", "valueDateTime"):
            if key in answer:
                return answer[key]
        if "valueBoolean" in answer:
            return "yes" if answer["valueBoolean"] else "no"
        if "valueCoding" in answer:
            options = self.offered(concept, known)
            coding = _of_the_options(options, answer["valueCoding"])
            said = coding.get("display")
            text = {"text": said} if said is not None and not _shown_by_the_code(options, coding) else {}
            return codec.read({"valueCodeableConcept": {"coding": [coding], **text}})
        if "valueQuantity" in answer:
            return read_quantity(answer["valueQuantity"], getattr(codec, "unit", None))
        number = answer.get("valueInteger", answer.get("valueDecimal"))
        return None if number is None else quantity.plain(number)


@lru_cache
def unit_option(code: str) -> Mapping[str, str]:
    """Return a unit as the form offers it: its UCUM code, and how it is written by hand."""
    with speaking(ENGLISH):
        return {"system": catalogue().systems["ucum"], "code": code, "display": unit_words(code)}


def _of_the_options(answers: AnswerList | None, coding: Mapping[str, Json]) -> Mapping[str, Json]:
    """Return a coding with the system that its writer left out, where one option alone has its code."""
    if answers is None or "system" in coding or "code" not in coding:
        return coding
    systems = {system for system, code in answers.by_code if code == coding["code"]}
    return {**coding, "system": systems.pop()} if len(systems) == 1 else coding


def _shown_by_the_code(answers: AnswerList | None, coding: Mapping[str, Json]) -> bool:
    """Whether the display is the code's own, as earlier versions of the form and programs of others write it."""
    key = (str(coding.get("system")), str(coding.get("code")))
    word = answers.by_code.get(key) if answers is not None else None
    return word is not None and is_display(word, str(coding.get("display")))


def is_display(word: Word, text: str) -> bool:
    """Whether a text that is not the word itself is the display of its code."""
    shown = word.codings[0].display if word.codings else None
    return shown is not None and text != word.word and text.casefold() == shown.casefold()
