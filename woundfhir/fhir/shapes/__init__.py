"""The shapes of answers in FHIR: one object each, in one table; their other half is ``woundfhir.record.shapes``.

A shape says how its answer is coded both ways (``codecs.py``), which types its profile allows for ``value[x]``,
which item of the form asks for it and how that item's answer is written, and into how many resources it goes.
"""

from __future__ import annotations

from typing import Any

from woundfhir.catalogue import Catalogue, Concept
from woundfhir.errors import WoundfhirError
from woundfhir.fhir.codecs import Codec, DateCodec, Reasons
from woundfhir.fhir.shapes.base import FhirShape
from woundfhir.fhir.shapes.numbers import Count, Interval, Quantity, Score
from woundfhir.fhir.shapes.words import Choice, Choices, Clock, Flag, Share, Text
from woundfhir.record import dates

Json = Any
#: How long a whole day is, as FHIR writes it.
_DAY = len("2026-03-02")


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
