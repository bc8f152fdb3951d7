"""The shapes of answers in the record: one object each, in one table.

Each has its other half in ``woundfhir.fhir.shapes``; ``tests/test_shapes.py`` names what a shape lacks.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.errors import WoundfhirError
from woundfhir.record.shapes.base import Shape, in_sentence, in_words
from woundfhir.record.shapes.leaves import Choice, Clock, Count, Date, Flag, Interval, Quantity, Score, Text
from woundfhir.record.shapes.parts import Choices, Group, Share, Step

Json = Any


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
        Group(shape_of),
        Step(shape_of),
    )
}


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


def item_words(
    concept: Concept, item: Mapping[str, Json], leave_out: Collection[str] = (), *, brief: bool = False
) -> str:
    """Return one item of a group as a reader sees it: its main field first, the others as their entries word them.

    Parameters
    ----------
    concept, item
        The group and the answers to its fields.
    leave_out
        Fields that stand elsewhere.
    brief
        Only the fields that a glance needs, without the note.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> concept = catalogue().concept("care.primary_dressing")
    >>> item_words(concept, {"dressing": "honey alginate", "size": "10 x 10 cm", "pieces": "1", "cut_to_fit": "yes"})
    'honey alginate, 10 x 10 cm, 1 piece, cut to fit'
    >>> item_words(catalogue().concept("assessment.undermining"), {"from": "2", "to": "6", "depth": "1.5 cm"})
    "from 2 to 6 o'clock, 1.5 cm deep"
    """
    shape = shape_of(concept)
    return shape.item(concept, item, leave_out, brief=brief) if isinstance(shape, Group) else words(concept, item)


def field_words(field: Concept, value: Json) -> str:
    """Return the answer to one field in the form that its entry gives, else after its label.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> field_words(catalogue().concept("assessment.undermining.depth"), "1.5 cm")
    '1.5 cm deep'
    """
    return shape_of(field).labelled(field, value)


__all__ = ["SHAPES", "Shape", "field_words", "in_sentence", "item_words", "shape_of", "words"]
