"""The shapes of answers in FHIR: one object each, in one table; their other half is ``woundfhir.record.shapes``.

A shape says how its answer is coded both ways (``codecs.py``), which types its profile allows for ``value[x]``,
which item of the form asks for it and how that item's answer is written, and into how many resources it goes.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, ClassVar, Literal

from woundfhir.catalogue import AnswerList, Catalogue, Concept, Word, catalogue
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
from woundfhir.language import ENGLISH, speaking
from woundfhir.record import dates, quantity
from woundfhir.record.spoken import unit_words

Json = Any
#: Into what an answer goes: one value; one value for each of its words; one for each word with its share beside it;
#: one for each set of fields; a Procedure with its details.
Spread = Literal["one", "each", "shares", "group", "step"]
#: How long a whole day is, as FHIR writes it.
_DAY = len("2026-03-02")


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
    return word is not None and _is_display(word, str(coding.get("display")))


def _is_display(word: Word, text: str) -> bool:
    """Whether a text that is not the word itself is the display of its code."""
    shown = word.codings[0].display if word.codings else None
    return shown is not None and text != word.word and text.casefold() == shown.casefold()


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
    if _is_display(word, answer):  # in that spelling it would be read as the code's, and not as the nurse's own
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


class Date(FhirShape):
    """A partial date, or a date with its clock time <-> dateTime.

    The form asks for the day by an item of the type ``date``, which gives a calendar; a month, a year, a clock time and
    words go into the words beside it: renderers make a whole day of a partial date, and their own zone's time of an
    instant.
    """

    name = "date"
    types = ("dateTime", "string")
    item = "date"

    def codec(self, concept: Concept, known: Catalogue, reasons: Reasons) -> Codec:
        return DateCodec(reasons)

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> dict[str, Json] | None:
        return {"valueDate": answer} if len(answer) == _DAY and dates.is_fhir(answer) else None


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

    def item_limits(self, concept: Concept) -> tuple[str | None, str | None]:
        return concept.low, concept.high

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> dict[str, Json] | None:
        found = quantity.parse(answer)
        if found is None or found.comparator:
            return None
        if self.item_type(concept) == "decimal":
            return None if found.unit else {"valueDecimal": found.exact}
        if known.units.get(found.unit or "") not in self.item_units(concept):
            return None
        return dict([codec.write(answer)])


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

    def write_item(self, concept: Concept, codec: Codec, known: Catalogue, answer: str) -> dict[str, Json] | None:
        whole = answer.isascii() and answer.isdigit() and len(answer) < 10 and str(int(answer)) == answer
        return {"valueInteger": int(answer)} if whole else None


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
