"""Codecs: for each kind of value the way to FHIR and back, side by side; ``shapes.py`` says which shape has which.

A codec is compiled once for each concept. ``write`` turns an answer into one member of an Observation, a
component or an Extension (they share the names of ``value[x]``); ``read`` takes it back out. What FHIR's
typed value cannot say (other words, half a number) goes as ``valueString`` and comes back as it was.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, ClassVar, Protocol

from woundfhir.catalogue import AnswerList, Catalogue, catalogue
from woundfhir.record import dates, quantity
from woundfhir.record.quantity import parse

Json = Any
Member = tuple[str, Json]


class Codec(Protocol):
    """Both directions of one leaf answer.

    Attributes
    ----------
    recurs
        Whether the same answers come again and again: words of a list, numbers; not texts and times.
    """

    recurs: ClassVar[bool]

    def write(self, answer: Json) -> Member:
        """Return the member that says the answer."""

    def read(self, holder: Mapping[str, Json]) -> Json:
        """Return the answer that a holder says, or None."""


class Reasons:
    """``{"absent": reason}`` <-> dataAbsentReason, words of the list coded, other words as text."""

    def __init__(self, answers: AnswerList) -> None:
        self.answers = answers

    def concept(self, answer: Mapping[str, str]) -> dict[str, Json]:
        """Return the CodeableConcept of an absent reason."""
        return write_word(self.answers, answer["absent"])

    def write(self, answer: Mapping[str, str]) -> Member:
        """Return the dataAbsentReason member."""
        return "dataAbsentReason", self.concept(answer)

    def read(self, concept: Json) -> dict[str, str] | None:
        """Return the absent answer of a CodeableConcept."""
        word = read_word(self.answers, concept)
        return {"absent": word} if word else None


# -- words -----------------------------------------------------------------------------------------


@lru_cache(maxsize=65536)
def _word(answers: AnswerList, word: str) -> dict[str, Json]:
    found = answers.find(word)
    if found is None or not found.codings:
        return {"text": word}
    return {"coding": [coding.fhir() for coding in found.written], "text": word}


def write_word(answers: AnswerList | None, word: str) -> dict[str, Json]:
    """Return a CodeableConcept: the codes of the word where the list has it, and the word itself as text."""
    return {"text": word} if answers is None else _word(answers, word)


def read_word(answers: AnswerList | None, concept: Json) -> str | None:
    """Return the word that a CodeableConcept says: its own words where they are ours, else the list's word.

    Beside a code of our own, words of the same list stand for themselves: the list has been made finer since.
    """
    if not isinstance(concept, dict):
        return None
    text = concept.get("text")
    if answers is not None and text.__class__ is str:
        ours, word = _both(answers, text)
        if concept == ours:
            return word
    return _read_word(answers, concept)


@lru_cache(maxsize=65536)
def _both(answers: AnswerList, text: str) -> tuple[dict[str, Json], str | None]:
    """How we write a word, and what is read of that."""
    ours = _word(answers, text)
    return ours, _read_word(answers, ours)


def _keys(codings: Json) -> set[tuple[Json, Json]]:
    return {(coding.get("system"), coding.get("code")) for coding in codings}


def _read_word(answers: AnswerList | None, concept: Json) -> str | None:
    text, codings = concept.get("text"), concept.get("coding", ())
    if answers is not None:
        said = answers.find(text) if text else None
        if said is not None and any(coding.key in _keys(codings) for coding in said.codings):
            return text  # type: ignore[no-any-return]
        for coding in codings:
            known = answers.by_code.get((coding.get("system"), coding.get("code")))
            if known:
                ours = said is not None and coding["system"] in catalogue().own_systems
                return text if text and (said is known or ours) else known.word
    return text or next((c["display"] for c in codings if c.get("display")), None)


# -- quantities ------------------------------------------------------------------------------------

#: UCUM's code of a number without a unit, the unity (from memory; a test holds every unit against a unit library).
NO_UNIT = "1"


class QuantityCodec:
    """quantity and interval: ``4.10 cm`` <-> valueQuantity, exact to the last digit."""

    recurs: ClassVar[bool] = True

    def __init__(self, catalogue: Catalogue, reasons: Reasons, unit: tuple[str | None, str] | None = None) -> None:
        self.units = catalogue.units
        self.ucum = catalogue.systems["ucum"]
        self.reasons = reasons
        self.unit = unit

    def _write(self, answer: str) -> Member:
        found = parse(answer)
        if found is None or (self.unit and found.unit):
            return "valueString", answer
        return "valueQuantity", self.quantity(found)

    def quantity(self, found: quantity.Quantity) -> dict[str, Json]:
        """Return a FHIR Quantity."""
        out: dict[str, Json] = {"value": found.exact}
        if found.comparator:
            out["comparator"] = found.comparator
        unit, code = self.unit or (found.unit, self.units.get(found.unit) if found.unit else None)
        if unit:
            out["unit"] = unit
        if code:
            out["system"], out["code"] = self.ucum, code
        return out

    def write(self, answer: Json) -> Member:
        """Return valueQuantity, valueString or dataAbsentReason."""
        return self._write(answer) if answer.__class__ is str else self.reasons.write(answer)

    def read(self, holder: Mapping[str, Json]) -> Json:
        """Return the quantity as the record writes it."""
        found = holder.get("valueQuantity")
        if found is not None:
            return read_quantity(found, self.unit)
        if "valueInteger" in holder and holder["valueInteger"].__class__ is not bool:
            return quantity.plain(holder["valueInteger"])
        return read_other(holder, self.reasons)


def read_quantity(found: Mapping[str, Json], own: tuple[str | None, str] | None = None) -> str | None:
    """Return a FHIR Quantity as the record writes it; ``own`` is the unit that the concept itself says, left out."""
    value = found.get("value")
    if value is None or value.__class__ is bool:
        return None
    number = value if value.__class__ is str else quantity.plain(value)
    if comparator := found.get("comparator"):  # some programs write null where there is none
        number = comparator + number
    unit = found.get("unit") or found.get("code")
    if own and unit in own:
        unit = None
    return f"{number} {unit}" if unit else number


class WordCodec:
    """choice and clock: a word <-> valueCodeableConcept."""

    recurs: ClassVar[bool] = True

    def __init__(self, answers: AnswerList | None, reasons: Reasons) -> None:
        self.answers = answers
        self.reasons = reasons

    def write(self, answer: Json) -> Member:
        """Return valueCodeableConcept or dataAbsentReason."""
        if answer.__class__ is str:
            return "valueCodeableConcept", write_word(self.answers, answer)
        return self.reasons.write(answer)

    def read(self, holder: Mapping[str, Json]) -> Json:
        """Return the word."""
        if "valueCodeableConcept" in holder:
            return read_word(self.answers, holder["valueCodeableConcept"])
        return read_other(holder, self.reasons)


class FlagCodec:
    """flag: yes or no <-> valueBoolean."""

    recurs: ClassVar[bool] = True

    def __init__(self, reasons: Reasons, words: AnswerList) -> None:
        self.reasons = reasons
        self.words = words

    def write(self, answer: Json) -> Member:
        """Return valueBoolean, valueString or dataAbsentReason."""
        if answer == "yes":
            return "valueBoolean", True
        if answer == "no":
            return "valueBoolean", False
        return ("valueString", answer) if answer.__class__ is str else self.reasons.write(answer)

    def read(self, holder: Mapping[str, Json]) -> Json:
        """Return yes, no or other words."""
        if "valueBoolean" in holder:
            return "yes" if holder["valueBoolean"] else "no"
        if "valueCodeableConcept" in holder:
            return read_word(self.words, holder["valueCodeableConcept"])
        return read_other(holder, self.reasons)


class TextCodec:
    """text: words <-> valueString."""

    recurs: ClassVar[bool] = False

    def __init__(self, reasons: Reasons) -> None:
        self.reasons = reasons

    def write(self, answer: Json) -> Member:
        """Return valueString or dataAbsentReason."""
        return ("valueString", answer) if answer.__class__ is str else self.reasons.write(answer)

    def read(self, holder: Mapping[str, Json]) -> Json:
        """Return the words."""
        return read_other(holder, self.reasons)


class DateCodec:
    """date: a partial date or date and time <-> valueDateTime."""

    recurs: ClassVar[bool] = False

    def __init__(self, reasons: Reasons) -> None:
        self.reasons = reasons

    def write(self, answer: Json) -> Member:
        """Return valueDateTime, valueString or dataAbsentReason."""
        if answer.__class__ is not str:
            return self.reasons.write(answer)
        return ("valueDateTime" if dates.is_fhir(answer) else "valueString"), answer

    def read(self, holder: Mapping[str, Json]) -> Json:
        """Return the date as written."""
        return holder["valueDateTime"] if "valueDateTime" in holder else read_other(holder, self.reasons)


class CountCodec:
    """count: a whole number <-> valueInteger."""

    recurs: ClassVar[bool] = True

    def __init__(self, reasons: Reasons) -> None:
        self.reasons = reasons

    def write(self, answer: Json) -> Member:
        """Return valueInteger, valueString or dataAbsentReason."""
        if answer.__class__ is not str:
            return self.reasons.write(answer)
        if answer.isascii() and answer.isdigit() and str(int(answer)) == answer and len(answer) < 10:
            return "valueInteger", int(answer)
        return "valueString", answer

    def read(self, holder: Mapping[str, Json]) -> Json:
        """Return the number as text."""
        if "valueInteger" in holder and holder["valueInteger"].__class__ is not bool:
            return quantity.plain(holder["valueInteger"])
        if "valueQuantity" in holder:
            return read_quantity(holder["valueQuantity"], (None, NO_UNIT))
        return read_other(holder, self.reasons)


def read_other(holder: Mapping[str, Json], reasons: Reasons) -> Json:
    """Return what any shape may also say: words, a coded value's words, or an absent reason."""
    if "valueString" in holder:
        return holder["valueString"]
    if "dataAbsentReason" in holder:
        return reasons.read(holder["dataAbsentReason"])
    if "valueCodeableConcept" in holder:
        return read_word(None, holder["valueCodeableConcept"])
    return None
