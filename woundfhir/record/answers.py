"""One answer, whatever its shape: its canonical form and its JSON Schema, each asked of the shape's object."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.record.leaf import ABSENT_SCHEMA, LEAF_SCHEMA, NONE, TEXT_PATTERN, StructureError, absent, text
from woundfhir.record.shapes import shape_of
from woundfhir.record.shapes.base import canonical_in, no_keys, schema_in

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
    return canonical_in(shape_of(concept), concept, value, zone, unknown)


def schema(concept: Concept) -> Json:
    """Return the JSON Schema (draft 2020-12) of an answer; annotations carry the question and the words."""
    return schema_in(shape_of(concept), concept)


__all__ = [
    "ABSENT_SCHEMA",
    "LEAF_SCHEMA",
    "NONE",
    "TEXT_PATTERN",
    "StructureError",
    "absent",
    "canonical",
    "no_keys",
    "schema",
    "text",
]
