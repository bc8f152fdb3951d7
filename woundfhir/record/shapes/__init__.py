"""The shapes of answers in the record: one object each, in one table.

Each has its other half in ``woundfhir.fhir.shapes``; ``tests/test_shapes.py`` names what a shape lacks.
"""

from __future__ import annotations

from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.errors import WoundfhirError
from woundfhir.record.shapes.base import Shape, in_words
from woundfhir.record.shapes.leaves import Choice, Clock, Count, Date, Flag, Interval, Quantity, Score, Text
from woundfhir.record.shapes.parts import Choices, Group, Share, Step

Json = Any

SHAPES: dict[str, Shape] = {
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


def shape_of(concept: Concept) -> Shape:
    """Return the object of a concept's shape.

    Raises
    ------
    WoundfhirError
        When the catalogue names a shape that has no object; names the concept and the shape.
    """
    found = SHAPES.get(concept.shape)
    if found is None:
        raise WoundfhirError(f"{concept.path}: the shape {concept.shape!r} has no object in woundfhir.record.shapes")
    return found


def words(concept: Concept, value: Json) -> str:
    """Return an answer as a reader sees it.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> words(catalogue().concept("assessment.tissue"), {"granulation": "90 %", "slough": "10 %"})
    'granulation 90 %, slough 10 %'
    >>> words(catalogue().concept("assessment.odour"), {"absent": "not assessed"})
    'not given: not assessed'
    """
    return in_words(shape_of(concept), concept, value)


__all__ = ["SHAPES", "Shape", "shape_of", "words"]
