"""One answer, whatever its shape: its canonical form and its JSON Schema, each asked of the shape's object."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.record.leaf import ABSENT_SCHEMA, LEAF_SCHEMA, NONE, TEXT_PATTERN, StructureError, absent, text
from woundfhir.record.shapes import shape_of

Json = Any


def canonical(concept: Concept, value: Json, zone: str | None, unknown: Callable[[str, Json], None]) -> Json:
    """Bring one answer to its canonical form.

    Parameters
    ----------
    concept
        What is answered.
    value
        The answer as it came.
    zone
        Zone of the record, for clock times without an offset.
    unknown
        Called with the path below the concept and the value of each key that is not in the catalogue.

    Returns
    -------
    The canonical answer, or None for nothing written.

    Raises
    ------
    StructureError
        When the structure fits no answer of this shape.
    """
    if value is None:
        return None
    if (missing := absent(value)) is not None:
        return missing or None
    return shape_of(concept).canonical(concept, value, zone, unknown)


def schema(concept: Concept) -> Json:
    """Return the JSON Schema (draft 2020-12) of an answer; annotations carry the question and the words."""
    shape = shape_of(concept)
    any_of = [{"$ref": "#/$defs/leaf"}, {"$ref": "#/$defs/absent"}, *shape.structures(concept)]
    out: Json = {"title": concept.label, "description": concept.question, "anyOf": any_of}
    if examples := shape.examples(concept):
        out["examples"] = examples
    return out


__all__ = [
    "ABSENT_SCHEMA",
    "LEAF_SCHEMA",
    "NONE",
    "TEXT_PATTERN",
    "StructureError",
    "absent",
    "canonical",
    "schema",
    "text",
]
