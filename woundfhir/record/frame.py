"""The shapes of the frame's keys: how each is brought to its canonical form, and the JSON Schema that says the same.

One walk over ``catalogue/data/frame.toml`` makes both; the answers inside are those of ``woundfhir.record.answers``.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from typing import Any

from woundfhir.catalogue import FrameKey, Part, catalogue, frame, nothing
from woundfhir.record.answers import StructureError, absent, schema, text
from woundfhir.record.frame_leaves import NULL, Date, FrameShape, Id, Text, Texts, Version, Walk, Word, Zone
from woundfhir.record.shapes.base import LEAF, MISSING

Json = Any

_NONE: Json = {"type": "object", "properties": {"none": {}}, "required": ["none"], "additionalProperties": False}


class OnePart(FrameShape):
    """A part of the frame."""

    name = "part"

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        part = frame().parts[key.of]
        if raw is None or (not raw and not part.bare):  # an empty text or list where a part may stand is nothing
            if key.needed and raw != {}:
                raise StructureError
            return None
        return walk.part(part, raw, path)

    def schema(self, key: FrameKey) -> Json:
        part = frame().parts[key.of]
        return _item(part) if part.bare or key.needed else {"anyOf": [NULL, part_schema(part)]}


class Parts(FrameShape):
    """A list of parts."""

    name = "parts"

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        part = frame().parts[key.of]
        found = (walk.part(part, item, f"{path}[{i}]") for i, item in enumerate(_list(raw)))
        return [item for item in found if item]

    def schema(self, key: FrameKey) -> Json:
        return _list_of(_item(frame().parts[key.of]))


class _Known(FrameShape):
    """A list, or ``{none: known}``, or an absent reason."""

    @abstractmethod
    def item(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        """Return one item in canonical form."""

    @abstractmethod
    def item_schema(self, key: FrameKey) -> Json:
        """Return the JSON Schema of one item."""

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        if raw is None:
            return None
        if isinstance(raw, dict) and raw.keys() == {"none"}:
            return {"none": "known"}
        if (missing := absent(raw)) is not None:
            return missing or None
        items = raw if isinstance(raw, list) else [raw]
        if len(items) == 1 and (known := self._in_words(items[0])) is not None:
            return known
        found = ((one, self.item(key, one, f"{path}[{i}]", walk)) for i, one in enumerate(items))
        kept = [(one, item) for one, item in found if item]
        if len(kept) == 1:  # beside items, or keys, in which nothing stands
            for only in kept[0]:
                if (known := self._in_words(only)) is not None:
                    return known
        return [item for _, item in kept]

    def schema(self, key: FrameKey) -> Json:
        item = self.item_schema(key)
        return {"anyOf": [LEAF, _NONE, MISSING, {"type": "array", "items": item}, item]}

    def _in_words(self, only: Json) -> Json:
        """Return what one word says of the whole list: that none is known, or why there is no answer; else None."""
        word = next(iter(only.values())) if isinstance(only, dict) and len(only) == 1 else only
        if not isinstance(word, str):
            return None
        # What came in another form (a resource for "no known allergies") was read before, by its code.
        if nothing.names_nothing(word, alone=False) or (isinstance(only, str) and nothing.none_known(word)):
            return {"none": "known"}
        reason = catalogue().answers["absent_reason"].find(word)
        no_answer = reason is not None or nothing.of_drugs(word) or nothing.fills(word)
        return {"absent": word.strip()} if no_answer else None


class KnownParts(_Known):
    """Parts, or none known, or an absent reason."""

    name = "known parts"

    def item(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        return walk.part(frame().parts[key.of], raw, path)

    def item_schema(self, key: FrameKey) -> Json:
        return _item(frame().parts[key.of])


class KnownTexts(_Known):
    """Texts, or none known, or an absent reason."""

    name = "known texts"

    def item(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        return text(raw)

    def item_schema(self, key: FrameKey) -> Json:
        return LEAF


class Answers(FrameShape):
    """The answers of a group of concepts."""

    name = "answers"

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        return None if raw is None else walk.group(raw, catalogue().groups[key.of], path, key.note)

    def schema(self, key: FrameKey) -> Json:
        also = {"note": {"anyOf": [LEAF, MISSING]}} if key.note else {}
        return {"anyOf": [NULL, _object({**_concepts(key), **also})]}


class InlineAnswers(Answers):
    """Answers that stand among the keys of their part; the walk merges them there."""

    name = "inline answers"


class ItemAnswers(FrameShape):
    """A list of the answers of a group; a text stands for its main one."""

    name = "item answers"

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        concepts = catalogue().groups[key.of]
        named = (item if isinstance(item, dict) else {key.bare: item} for item in _list(raw))
        found = (walk.group(item, concepts, f"{path}[{i}]") for i, item in enumerate(named))
        return [item for item in found if item]

    def schema(self, key: FrameKey) -> Json:
        return _list_of({"anyOf": [LEAF, _object(_concepts(key))]})


SHAPES: dict[str, FrameShape] = {
    one.name: one
    for one in (
        *(Version(), Zone(), Id(), Text(), Texts(), Date(), Word(), OnePart(), Parts()),
        *(KnownParts(), KnownTexts(), Answers(), InlineAnswers(), ItemAnswers()),
    )
}


def part_schema(part: Part) -> Json:
    """Return the JSON Schema (an object) of one part."""
    properties: dict[str, Json] = {}
    for name, key in part.keys.items():
        if key.shape == "inline answers":
            properties.update(_concepts(key))
        else:
            properties[name] = {"title": key.label, "description": key.question, **SHAPES[key.shape].schema(key)}
    return _object(properties, [name for name, key in part.keys.items() if key.needed])


def _item(part: Part) -> Json:
    return {"anyOf": [LEAF, part_schema(part)]} if part.bare else part_schema(part)


def _concepts(key: FrameKey) -> dict[str, Json]:
    return {name: schema(concept) for name, concept in catalogue().groups[key.of].items()}


def _object(properties: Mapping[str, Json], required: list[str] | None = None) -> Json:
    return {"type": "object", "properties": dict(properties), "required": required or [], "additionalProperties": False}


def _list_of(item: Json) -> Json:
    return {"anyOf": [NULL, {"type": "array", "items": item}]}


def _list(raw: Json) -> list[Json]:
    if raw is None:
        return []
    if not isinstance(raw, list):
        raise StructureError
    return raw
