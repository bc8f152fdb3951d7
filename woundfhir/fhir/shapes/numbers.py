"""Shapes whose answers are numbers: with a unit, on a scale, counted."""

from __future__ import annotations

from typing import Any

from woundfhir.catalogue import Catalogue, Concept
from woundfhir.fhir.codecs import NO_UNIT, Codec, CountCodec, QuantityCodec, Reasons
from woundfhir.fhir.shapes.base import FhirShape
from woundfhir.record import quantity

Json = Any


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
