"""The whole record brought to its canonical form: keys in catalogue order, every leaf text, nothing lost.

What has no place goes to ``extra`` with its path; what has the wrong structure raises ``StructureError`` and is then
explained through the JSON Schema.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal
from typing import Any

import msgspec

from woundfhir.catalogue import Concept, Part, catalogue, current, frame, per_catalogue
from woundfhir.record.answers import StructureError, absent, no_keys, text
from woundfhir.record.answers import canonical as answer
from woundfhir.record.frame import SHAPES
from woundfhir.record.leaf import key_of, made_plain
from woundfhir.record.shapes.base import Unknown

Json = Any

#: Why something stands under ``extra`` that no key of the record holds.
UNKNOWN = "no such key"

#: Any value as compact JSON, in bytes.
to_json = msgspec.json.Encoder(decimal_format="number").encode
#: The value of JSON text, numbers with all their digits.
from_json = msgspec.json.Decoder(float_hook=Decimal).decode


def as_json(value: Json) -> str:
    """Return any value as compact JSON text: how ``extra`` keeps things verbatim in every format."""
    return to_json(value).decode()


def sort_extra(items: list[dict[str, str]]) -> list[dict[str, str]]:
    """Return the items of ``extra`` in one fixed order, each once, as texts that every format can carry."""
    order = frame().parts["extra"].keys
    plain = [{key: made_plain(item[key]).strip() for key in order if key in item} for item in items]
    named = {as_json(item): item for item in plain}
    return [named[key] for key in sorted(named)]


class _Walk:
    """One walk over one record, along the frame."""

    def __init__(self) -> None:
        self.zone: str | None = None
        self.extra: list[dict[str, str]] = []

    def unknown(self, path: str, value: Json) -> None:
        # Blank text is written in quotation marks, so that it is there when it is read again.
        kept = value if isinstance(value, str) and value.strip() else as_json(value)
        self.extra.append({"from": "record", "place": path, "why": UNKNOWN, "value": kept})

    def mapping(self, raw: Json, known: Collection[str], path: str) -> dict[str, Json]:
        """Return the keys of a mapping in their canonical spelling; unknown ones go to ``extra``."""
        if not isinstance(raw, dict):
            raise StructureError
        out = {}
        for key, value in raw.items():
            name = key if key in known else key_of(key)
            if name in known:
                out[name] = value
            elif value is not None:
                self.unknown(f"{path}.{name}" if path else name, value)
        return out

    def below(self, head: str) -> Unknown:
        """Return a callback that keeps what stands below a path."""
        return lambda path, value: self.unknown(f"{head}{'' if path[:1] == '[' else '.'}{path}", value)

    def record(self, raw: Json) -> dict[str, Json]:
        """Return the whole record; what was not understood is added to its ``extra``.

        Only identifiers and ``extra`` hold addresses of ours; those that version 0.1.0 wrote become the present ones.
        """
        out = self.part(frame().record, raw, "") or {}
        patient = out["patient"]
        if "identifiers" in patient:
            patient["identifiers"] = current(patient["identifiers"])
        if extra := [*out.pop("extra", ()), *self.extra]:
            out["extra"] = sort_extra(current(extra))
        return out

    def part(self, part: Part, raw: Json, path: str) -> dict[str, Json] | None:
        """Return a part in canonical form, or None for an empty one."""
        if part.bare and not isinstance(raw, dict):
            return {part.bare: found} if (found := text(raw)) else None
        named = self.mapping(raw, _names(part), path)
        out: dict[str, Json] = {}
        for name, key in part.keys.items():
            if key.shape == "inline answers":
                out.update(self.answers(named, catalogue().groups[key.of], path))
                continue
            if key.needed and name not in named:
                raise StructureError
            found = SHAPES[key.shape].canonical(key, named.get(name), f"{path}.{name}" if path else name, self)
            if key.needed and found is None and not key.always:
                raise StructureError
            if found or key.always:
                out[name] = found or ([] if key.shape == "parts" else {})
        return out or None

    def group(self, raw: Json, concepts: Mapping[str, Concept], path: str, note: bool = False) -> dict[str, Json]:
        """Return the answers of one group in catalogue order, and the note beside them where there may be one."""
        named = self.mapping(raw, {*concepts, "note"} if note else concepts, path)
        out = self.answers(named, concepts, path)
        if note and "note" in named:
            missing = absent(named["note"])
            if found := text(named["note"]) if missing is None else missing:
                out["note"] = found
        return out

    def answers(self, named: Mapping[str, Json], concepts: Mapping[str, Concept], path: str) -> dict[str, Json]:
        """Return the answers to the concepts among keys that are spelt as they should be."""
        out: dict[str, Json] = {}
        for key, concept in concepts.items():
            if key in named:
                value = named[key]
                below = no_keys if value.__class__ is str else self.below(f"{path}.{key}")
                found = answer(concept, value, self.zone, below)
                if found is not None:
                    out[key] = found
        return out


@per_catalogue()
def _names(part: Part) -> frozenset[str]:
    """Every key that a part may hold."""
    inline = [key.of for key in part.keys.values() if key.shape == "inline answers"]
    own = [name for name, key in part.keys.items() if key.shape != "inline answers"]
    return frozenset((*own, *(name for group in inline for name in catalogue().groups[group])))


def canonical(raw: Json) -> dict[str, Json]:
    """Return the canonical form of a record.

    Parameters
    ----------
    raw
        The record as decoded from JSON, YAML or CSV.

    Returns
    -------
    dict
        Keys in catalogue order, every leaf text, unknown keys under ``extra``.

    Raises
    ------
    StructureError
        When the structure is not that of a record.

    Examples
    --------
    >>> canonical({"woundfhir": 1, "patient": {"born": "1948-03"}, "colour": "blue"})["extra"][0]["place"]
    'colour'
    """
    return _Walk().record(raw)
