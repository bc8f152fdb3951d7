"""The shapes of the frame's keys that hold one text or several: canonical form and JSON Schema side by side.

``frame`` holds the shapes that are made of parts, and the table of all of them.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from typing import Any, Protocol

from woundfhir.catalogue import Concept, FrameKey, Part
from woundfhir.record import dates
from woundfhir.record.answers import TEXT_PATTERN, StructureError, text
from woundfhir.record.leaf import VISIBLE
from woundfhir.record.shapes.base import LEAF

Json = Any

#: The version of the record's form.
VERSION = 1
NULL: Json = {"type": "null"}
#: Like ``answers.LEAF_SCHEMA``, but something is written.
_NEEDED: Json = {
    "anyOf": [{"type": "string", "pattern": VISIBLE, "allOf": [{"pattern": TEXT_PATTERN}]}, {"type": "number"}]
}


class Walk(Protocol):
    """What a shape asks of the walk over one record (``woundfhir.record.canonical``)."""

    zone: str | None

    def part(self, part: Part, raw: Json, path: str) -> dict[str, Json] | None:
        """Return a part in canonical form, or None for an empty one."""

    def group(self, raw: Json, concepts: Mapping[str, Concept], path: str, note: bool = False) -> dict[str, Json]:
        """Return the answers of a group in canonical form."""


class FrameShape(ABC):
    """One shape: both halves side by side."""

    name: str

    @abstractmethod
    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        """Return the canonical form of what stands at a key, or None for nothing; raise ``StructureError``."""

    @abstractmethod
    def schema(self, key: FrameKey) -> Json:
        """Return the JSON Schema of what may stand at a key."""


class Version(FrameShape):
    """The version of the record's form."""

    name = "version"

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        if raw not in (VERSION, str(VERSION)):
            raise StructureError
        return VERSION

    def schema(self, key: FrameKey) -> Json:
        return {"enum": [VERSION, str(VERSION)]}


class Text(FrameShape):
    """A text; its words, if any, are the usual ones."""

    name = "text"

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        return text(raw)

    def schema(self, key: FrameKey) -> Json:
        return {**LEAF, "examples": list(key.words)} if key.words else LEAF


class Id(Text):
    """A text that must be there."""

    name = "id"

    def schema(self, key: FrameKey) -> Json:
        return _NEEDED


class Zone(Text):
    """The zone of clock times, for all that is read after it."""

    name = "zone"

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        walk.zone = text(raw)
        return walk.zone


class Date(Text):
    """A date or a point in time."""

    name = "date"

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        return dates.tidy(text(raw) or "", walk.zone) or None


class Word(FrameShape):
    """One of the words, in any case of letters."""

    name = "word"

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        found = text(raw)
        if found is not None and found.casefold() not in key.words:
            raise StructureError
        return found.casefold() if found else None

    def schema(self, key: FrameKey) -> Json:
        any_case = ("".join(f"[{c}{c.upper()}]" if c.isalpha() else c for c in word) for word in key.words)
        pattern = rf"^\s*({'|'.join(any_case)})?\s*$"
        return {"anyOf": [{"type": "string", "pattern": pattern}, NULL], "examples": list(key.words)}


class Texts(FrameShape):
    """One text or several."""

    name = "texts"

    def canonical(self, key: FrameKey, raw: Json, path: str, walk: Walk) -> Json:
        return [found for item in (raw if isinstance(raw, list) else [raw]) if (found := text(item))]

    def schema(self, key: FrameKey) -> Json:
        return {"anyOf": [LEAF, {"type": "array", "items": LEAF}]}
