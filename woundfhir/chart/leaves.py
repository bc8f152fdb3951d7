"""Every single answer of a part of a record, with its place."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from woundfhir.catalogue import Concept
from woundfhir.chart.asking import Answers, is_absent

Json = Any


class Leaf(NamedTuple):
    """One answer as it stands in the record: its concept, its value (text, list, dict), its path."""

    concept: Concept
    value: Json
    path: str


def leaves(concepts: Mapping[str, Concept], answers: Answers, place: str) -> list[Leaf]:
    """Return every answer of one group of the record, and of the fields of its groups."""
    out: list[Leaf] = []
    _collect(concepts, answers, place, out)
    return out


def _collect(concepts: Mapping[str, Concept], answers: Answers, place: str, out: list[Leaf]) -> None:
    for key, value in answers.items():
        concept = concepts.get(key)
        if concept is None:  # A key of the record beside the catalogue's: a note's id, the free words of an item.
            continue
        where = f"{place}.{key}"
        if not concept.fields or type(value) is str or is_absent(value):
            out.append(_new(Leaf, (concept, value, where)))
        elif type(value) is list:
            for index, one in enumerate(value):
                _collect(concept.fields, one, f"{where}[{index}]", out)
        else:
            _collect(concept.fields, value, where, out)


#: Makes a named tuple at half the cost; there are a hundred answers in a note.
_new = tuple.__new__
