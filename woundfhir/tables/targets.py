"""Where the cell of a column may go in the record: a path of the catalogue, and the shape of what stands there."""

from __future__ import annotations

from typing import NamedTuple

from woundfhir.catalogue import Concept, FrameKey, catalogue, frame, per_catalogue
from woundfhir.limits import COLUMN_NUMBER
from woundfhir.record.nearest import nearest
from woundfhir.record.shapes import shape_of
from woundfhir.record.table_clients import Column

#: In a path, the number of an item that each row adds: ``supplies.+.item``.
EACH = "+"
#: The clock time of a visit, where it has a column of its own.
TIME: Column = ("visit", "time")
#: Beginnings that a person may write -> where they stand in the record.
_SHORT = {"client": ("visit", "client"), "supply": ("supplies", EACH), "photo": ("photos", EACH)}
_HEADS = {"patient": "patient", "wound": "wound", "visit": "visit"}
_LEAVES = ("id", "text", "texts", "date", "word", "known texts")


class Target(NamedTuple):
    """A place in the record.

    Attributes
    ----------
    column
        The parts of its path, as the record's own table names it.
    shape
        Of a concept, the shape of its answer; of a key of the frame, ``text``, ``date`` or ``word``; ``time``.
    concept
        What is answered there; None for a key of the frame.
    words
        Of a key of the frame, the words that it knows.
    """

    column: Column
    shape: str
    concept: Concept | None = None
    words: tuple[str, ...] = ()

    @property
    def head(self) -> str:
        """What it belongs to: ``patient``, ``wound``, ``visit``, or ``entry`` for a wound at a visit."""
        return _HEADS.get(self.column[0], "entry")

    @property
    def path(self) -> str:
        """Its path in words."""
        return ".".join(self.column)


@per_catalogue(4096)
def target(path: str) -> Target | None:
    """Return the place that a path names, None where it names none.

    Examples
    --------
    >>> target("assessment.length").shape, target("patient.identifiers").path
    ('quantity', 'patient.identifiers.1.value')
    >>> target("supply.item").path, target("client.temperature").head, target("assessment.lenght")
    ('supplies.+.item', 'visit', None)
    """
    steps = tuple(path.strip().split("."))
    steps = (*_SHORT.get(steps[0], steps[:1]), *steps[1:])
    if steps == TIME:
        return Target(TIME, "time")
    head = _HEADS.get(steps[0])
    return _in_part("entry", steps, ()) if head is None else _in_part(head, steps[1:], steps[:1])


def near_path(path: str) -> str:
    """Return the path of the record that a misspelt one is nearest to, or an empty text."""
    above, _, key = path.strip().rpartition(".")
    found = nearest(f"{above}.{key}" if above else key)
    return f"{above}.{found}" if found and above else found or ""


def _in_part(name: str, steps: Column, before: Column) -> Target | None:
    """Walk on from a part of the frame; ``before`` is the path so far."""
    if not steps:
        part = frame().parts[name]
        return _in_part(name, (part.bare,), before) if part.bare else None
    keys = frame().parts[name].keys
    key = keys.get(steps[0])
    if key is None or key.shape == "inline answers":
        inline = next((one for one in keys.values() if one.shape == "inline answers"), None)
        concept = catalogue().groups[inline.of].get(steps[0]) if inline is not None else None
        return None if concept is None else _in_concept(concept, steps[1:], (*before, steps[0]))
    return _in_key(name, key, steps[1:], (*before, steps[0]))


def _in_key(name: str, key: FrameKey, steps: Column, before: Column) -> Target | None:
    if key.shape in _LEAVES:
        numbered = key.shape in ("texts", "known texts") and len(steps) == 1 and _is_item(steps[0])
        shape = key.shape if key.shape in ("date", "word") else "text"
        return Target((*before, *steps), shape, None, key.words) if not steps or numbered else None
    if key.shape == "part":
        return _in_part(key.of, steps, before)
    if key.shape in ("parts", "known parts") and (name, key.key) != ("visit", "wounds"):
        steps = steps if steps and _is_item(steps[0]) else ("1", *steps)
        if key.of == "identifier" and len(steps) == 1:
            steps = (*steps, "value")
        return _in_part(key.of, steps[1:], (*before, steps[0]))
    if key.shape in ("answers", "item answers") and steps:
        if key.shape == "item answers":
            steps = steps if _is_item(steps[0]) else (EACH, *steps)
            before, steps = (*before, steps[0]), steps[1:] or (key.bare,)
        if steps == ("note",) and key.note:
            return Target((*before, "note"), "text")
        concept = catalogue().groups[key.of].get(steps[0])
        return None if concept is None else _in_concept(concept, steps[1:], (*before, steps[0]))
    return None


def _in_concept(concept: Concept, steps: Column, before: Column) -> Target | None:
    if not steps:
        return Target(before, concept.shape, concept)
    if concept.shape == "share":
        return Target((*before, *steps), "share", concept) if len(steps) == 1 else None
    if not concept.is_group:
        return None
    if concept.many and _is_item(steps[0]):
        before, steps = (*before, steps[0]), steps[1:]
    elif concept.many:
        before = (*before, "1")
    if steps == ("note",) and "note" not in concept.fields:
        return Target((*before, "note"), "text")
    field = concept.fields.get(steps[0]) if len(steps) == 1 else None
    return None if field is None else Target((*before, steps[0]), shape_of(field).name, field)


def _is_item(step: str) -> bool:
    return step == EACH or (step.isascii() and step.isdigit() and 0 < int(step[:9]) <= COLUMN_NUMBER)
