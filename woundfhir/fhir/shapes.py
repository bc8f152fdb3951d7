"""The shapes of answers in FHIR: one object each, in one table; their other half is ``woundfhir.record.shapes``.

A shape says how its answer is coded both ways (``codecs.py``), which types its profile allows for ``value[x]``,
which item of the form asks for it and how that item's answer is written, and into how many resources it goes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Literal

from woundfhir.catalogue import AnswerList, Catalogue, Concept
from woundfhir.errors import WoundfhirError
from woundfhir.fhir.codecs import (
    NO_UNIT,
    Codec,
    CountCodec,
    DateCodec,
    FlagCodec,
    QuantityCodec,
    Reasons,
    TextCodec,
    WordCodec,
    read_quantity,
)
from woundfhir.record import dates, quantity

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
    item: ClassVar[str] = "string"

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        """Return both directions of one value; shapes made of several use it for each of them."""
        return TextCodec(reasons)

    def item_type(self, concept: Concept) -> str:
        """Return the type of the form's item."""
        return self.item

    def options(self, concept: Concept, known: Catalogue) -> AnswerList | None:
        """Return the words to choose from: the item's options, and the value set of the profile."""
        return concept.answers

    def item_units(self, concept: Concept) -> tuple[str, ...]:
        """Return the units that the form's item offers, by their UCUM codes."""
        return ()

    def item_limits(self, concept: Concept) -> tuple[str | None, str | None]:
        """Return the smallest and the largest whole number that the form's item takes."""
        return None, None

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> tuple[dict[str, Json], bool]:
        """Return the typed value of the form's item, and whether it says all of the answer."""
        return {"valueString": answer}, True

    def read_item(self, codec: Codec, answer: Mapping[str, Json]) -> Json:
        """Return the answer that an item of the form gives; any type is read, whichever the form asked for."""
        for key in ("valueString", "valueDate", "valueDateTime"):
            if key in answer:
                return answer[key]
        if "valueBoolean" in answer:
            return "yes" if answer["valueBoolean"] else "no"
        if "valueCoding" in answer:
            return codec.read({"valueCodeableConcept": {"coding": [answer["valueCoding"]]}})
        if "valueQuantity" in answer:
            return read_quantity(answer["valueQuantity"])
        number = answer.get("valueInteger", answer.get("valueDecimal"))
        return None if number is None else quantity.plain(number)


class Text(FhirShape):
    """Words <-> string."""

    name = "text"


class _Words(FhirShape):
    """What all shapes with words of a list share."""

    types = ("CodeableConcept",)
    item = "open-choice"

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        return WordCodec(self.options(concept, known), reasons)

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> tuple[dict[str, Json], bool]:
        answers = self.options(concept, known)
        word = answers.find(answer) if answers else None
        if answers is None or word is None or not word.codings:
            return {"valueString": answer}, True
        first = answers.by_code.get(word.codings[0].key)
        return {"valueCoding": word.codings[0].fhir()}, first is word and answer == word.word


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
    item = "boolean"

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        return FlagCodec(reasons, known.answers["yes_no"])

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> tuple[dict[str, Json], bool]:
        return ({"valueBoolean": answer == "yes"}, True) if answer in ("yes", "no") else ({}, False)


class Date(FhirShape):
    """A partial date, or a date with its clock time <-> dateTime; the form asks for the day."""

    name = "date"
    types = ("dateTime", "string")
    item = "date"

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        return DateCodec(reasons)

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> tuple[dict[str, Json], bool]:
        return ({"valueDate": answer[:10]}, len(answer) <= 10) if dates.is_fhir(answer[:10]) else ({}, False)


class Quantity(FhirShape):
    """A number with its unit <-> Quantity; a number without units is a decimal in the form."""

    name = "quantity"
    types = ("Quantity", "string")
    item = "quantity"

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        return QuantityCodec(known, reasons, (None, NO_UNIT) if concept.ratio else None)

    def item_type(self, concept: Concept) -> str:
        return self.item if concept.units else "decimal"

    def item_units(self, concept: Concept) -> tuple[str, ...]:
        return concept.units

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> tuple[dict[str, Json], bool]:
        found = quantity.parse(answer)
        if found is None or found.comparator:
            return {}, False
        if self.item_type(concept) == "decimal":
            return ({}, False) if found.unit else ({"valueDecimal": found.exact}, True)
        return (dict([codec.write(answer)]), True) if found.unit else ({}, False)


class Interval(Quantity):
    """A length of time <-> Quantity."""

    name = "interval"

    def item_type(self, concept: Concept) -> str:
        return self.item

    def item_units(self, concept: Concept) -> tuple[str, ...]:
        return ("d", "wk", "h")


class _Whole(FhirShape):
    """What the whole numbers share: an integer in the form."""

    item = "integer"

    def item_limits(self, concept: Concept) -> tuple[str | None, str | None]:
        return concept.low, concept.high

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> tuple[dict[str, Json], bool]:
        whole = answer.isascii() and answer.isdigit() and len(answer) < 10 and str(int(answer)) == answer
        return ({"valueInteger": int(answer)}, True) if whole else ({}, False)


class Score(_Whole):
    """Points on a scale <-> Quantity in points."""

    name = "score"
    types = ("Quantity", "string")

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        return QuantityCodec(known, reasons, ("{score}", "{score}"))


class Count(_Whole):
    """How many <-> integer."""

    name = "count"
    types = ("integer", "string")

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        return CountCodec(reasons)


class Group(FhirShape):
    """A set of fields <-> an Observation with components; its main field is the value."""

    name = "group"
    spread = "group"
    item = "group"


class Step(FhirShape):
    """A step of the dressing change <-> a Procedure, and an Observation with what a Procedure cannot say."""

    name = "step"
    spread = "step"
    item = "group"


SHAPES: dict[str, FhirShape] = {
    one.name: one
    for one in (
        Quantity(),
        Choice(),
        Choices(),
        Share(),
        Flag(),
        Text(),
        Clock(),
        Score(),
        Count(),
        Date(),
        Interval(),
        Group(),
        Step(),
    )
}


def fhir_shape(concept: Concept) -> FhirShape:
    """Return the object of a concept's shape.

    Raises
    ------
    WoundfhirError
        When the catalogue names a shape that has no object; names the concept and the shape.
    """
    found = SHAPES.get(concept.shape)
    if found is None:
        raise WoundfhirError(f"{concept.path}: the shape {concept.shape!r} has no object in woundfhir.fhir.shapes")
    return found
