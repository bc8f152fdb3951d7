"""Answers by shape: how each is brought to its canonical form, and the JSON Schema that says the same.

Both stand side by side so that they cannot drift apart; a property test holds them together.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.record import dates, quantity

Json = Any

#: Text that FHIR and XML can carry: something visible, no control characters but tab and line ends.
TEXT_PATTERN = r"^[^\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]*$"
_BAD_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
NONE = "none"


class StructureError(Exception):
    """The value has a structure that its place does not admit; jsonschema then says which."""


def text(value: Json) -> str | None:
    """Return a leaf as text: numbers and truth values as written, nothing for null and for blank text.

    Examples
    --------
    >>> text(Decimal("4.10")), text(True), text("  "), text(" as she said ")
    ('4.10', 'yes', None, 'as she said')
    """
    if isinstance(value, str):
        if _BAD_TEXT.search(value):
            raise StructureError
        return value.strip() or None
    if value is None:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, (Decimal, float)):
        return format(Decimal(str(value)), "f")
    raise StructureError


def absent(value: Json) -> dict[str, str] | None:
    """Return ``{"absent": reason}`` where the value says so, else None; a reason left blank says nothing: ``{}``."""
    if isinstance(value, dict) and value.keys() == {"absent"} and not isinstance(value["absent"], (dict, list)):
        reason = text(value["absent"])
        return {} if reason is None else {"absent": reason}
    return None


def _clock(value: Json, zone: str | None) -> str | None:
    found = text(value)
    hour = re.fullmatch(r"(?:0?)([1-9]|1[0-2])(?:\s*o'?clock)?", found, re.IGNORECASE) if found else None
    return hour[1] if hour else found


def _quantity(value: Json, zone: str | None) -> str | None:
    found = text(value)
    return quantity.tidy(found) if found else None


def _date(value: Json, zone: str | None) -> str | None:
    found = text(value)
    return dates.tidy(found, zone) if found else None


def _plain(value: Json, zone: str | None) -> str | None:
    return text(value)


def _flag(value: Json, zone: str | None) -> str | None:
    found = text(value)
    return (
        {"y": "yes", "n": "no", "true": "yes", "false": "no", "yes": "yes", "no": "no"}.get(found.casefold(), found)
        if found
        else None
    )


_LEAVES: dict[str, Callable[[Json, str | None], str | None]] = {
    "quantity": _quantity,
    "interval": _quantity,
    "clock": _clock,
    "date": _date,
    "flag": _flag,
    "choice": _plain,
    "text": _plain,
    "score": _plain,
    "count": _plain,
}


def _key(key: object) -> str:
    return str(key).strip().lower().replace(" ", "_").replace("-", "_")


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
    leaf = _LEAVES.get(concept.shape)
    if leaf:
        return leaf(value, zone)
    if concept.shape == "choices":
        items = value if isinstance(value, list) else [value]
        return [word for word in (text(item) for item in items) if word] or None
    if concept.shape == "share":
        return _share(concept, value)
    return _group(concept, value, zone, unknown)


def _share(concept: Concept, value: Json) -> Json:
    """Shares stand in the order of the answer list, other words behind them: in a table columns have no order."""
    if not isinstance(value, dict):
        return text(value)
    out: dict[str, Json] = {}
    for word, amount in value.items():
        missing = absent(amount)
        found = (missing or None) if missing is not None else quantity.tidy(text(amount) or "") or None
        if found is not None and str(word).strip():
            if _BAD_TEXT.search(str(word)):
                raise StructureError
            out[str(word).strip()] = found
    known = concept.answers
    order = {listed.word: number for number, listed in enumerate(known.words)} if known else {}

    def rank(word: str) -> tuple[int, str]:
        found = known.find(word) if known else None
        return (order[found.word] if found else len(order), word)

    return {word: out[word] for word in sorted(out, key=rank)} or None


def _group(concept: Concept, value: Json, zone: str | None, unknown: Callable[[str, Json], None]) -> Json:
    if not isinstance(value, (dict, list)):
        word = text(value)
        if word is None:
            return None
        if word.casefold() == NONE:
            return NONE
        item = {concept.main if concept.main and concept.shape == "step" else "note": word}
        return [item] if concept.many else item
    if isinstance(value, list) and not concept.many and len(value) != 1:
        raise StructureError
    items = value if isinstance(value, list) else [value]
    out = []
    for index, raw in enumerate(items):
        place = f"[{index}]" if isinstance(value, list) else ""
        item = _item(concept, raw, zone, _below(unknown, f"{place}."))
        if item:
            out.append(item)
    if len(out) == 1 and concept.shape == "group" and out[0].keys() == {concept.main}:
        # An item that says nothing but a reason for its main field says it of the whole.
        (only,) = out[0].values()
        if isinstance(only, dict):
            return only
    return (out or None) if concept.many else (out[0] if out else None)


def _below(unknown: Callable[[str, Json], None], head: str) -> Callable[[str, Json], None]:
    """Return the same callback for paths below a head."""
    return lambda path, value: unknown(f"{head}{path}", value)


def _item(concept: Concept, raw: Json, zone: str | None, unknown: Callable[[str, Json], None]) -> dict[str, Json]:
    if not isinstance(raw, dict):
        word = text(raw)
        if word is None:
            return {}
        return {concept.main if concept.main and concept.shape == "step" else "note": word}
    named = {key if key in concept.fields else _key(key): found for key, found in raw.items()}
    for key in named.keys() - concept.fields.keys() - {"note"}:
        unknown(key, named[key])
    out: dict[str, Json] = {}
    for key, inner in concept.fields.items():
        if key in named:
            found = canonical(inner, named[key], zone, _below(unknown, key))
            if found is not None:
                out[key] = found
    if "note" in named and "note" not in concept.fields and (note := text(named["note"])):
        out["note"] = note
    return out


LEAF_SCHEMA: Json = {
    "anyOf": [{"type": "string", "pattern": TEXT_PATTERN}, {"type": "number"}, {"type": "boolean"}, {"type": "null"}]
}
ABSENT_SCHEMA: Json = {
    "type": "object",
    "properties": {"absent": {"$ref": "#/$defs/leaf"}},
    "required": ["absent"],
    "additionalProperties": False,
}


def schema(concept: Concept) -> Json:
    """Return the JSON Schema (draft 2020-12) of an answer; annotations carry the question and the words."""
    leaf: Json = {"$ref": "#/$defs/leaf"}
    missing: Json = {"$ref": "#/$defs/absent"}
    if concept.shape == "choices":
        any_of = [leaf, {"type": "array", "items": leaf}, missing]
    elif concept.shape == "share":
        any_of = [leaf, missing, {"type": "object", "additionalProperties": {"anyOf": [leaf, missing]}}]
    elif concept.is_group:
        fields = {key: schema(inner) for key, inner in concept.fields.items()}
        fields.setdefault("note", leaf)
        item = {"type": "object", "properties": fields, "additionalProperties": False}
        size = {} if concept.many else {"minItems": 1, "maxItems": 1}
        any_of = [leaf, missing, item, {"type": "array", "items": {"anyOf": [leaf, item]}, **size}]
    else:
        any_of = [leaf, missing]
    out: Json = {"title": concept.label, "description": concept.question, "anyOf": any_of}
    if concept.answers:
        out["examples"] = [word.word for word in concept.answers.words]
    elif concept.unit:
        out["examples"] = [f"1 {concept.unit}"]
    return out
