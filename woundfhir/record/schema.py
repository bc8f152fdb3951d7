"""The JSON Schema of the record, generated from the catalogue, and the words in which a broken rule is told."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from woundfhir.catalogue import BASE, Concept, catalogue
from woundfhir.errors import InputError
from woundfhir.record import canonical as form
from woundfhir.record.answers import ABSENT_SCHEMA, LEAF_SCHEMA, TEXT_PATTERN, schema

Json = Any
_LEAF: Json = {"$ref": "#/$defs/leaf"}
_ABSENT: Json = {"$ref": "#/$defs/absent"}
_NEEDED: Json = {
    "anyOf": [{"type": "string", "pattern": r"\S", "allOf": [{"pattern": TEXT_PATTERN}]}, {"type": "number"}]
}


def _object(properties: Mapping[str, Json], required: tuple[str, ...] = ()) -> Json:
    return {"type": "object", "properties": dict(properties), "required": list(required), "additionalProperties": False}


def _leaves(keys: tuple[str, ...]) -> Json:
    return _object(dict.fromkeys(keys, _LEAF))


def _concepts(group: Mapping[str, Concept]) -> dict[str, Json]:
    return {key: schema(concept) for key, concept in group.items()}


def _words(words: tuple[str, ...]) -> Json:
    pattern = (
        "^\\s*(" + "|".join("".join(f"[{c}{c.upper()}]" if c.isalpha() else c for c in w) for w in words) + ")?\\s*$"
    )
    return {"anyOf": [{"type": "string", "pattern": pattern}, {"type": "null"}], "examples": list(words)}


def _known_list(item: Json) -> Json:
    none = {"type": "object", "properties": {"none": {}}, "required": ["none"], "additionalProperties": False}
    return {"anyOf": [_LEAF, none, _ABSENT, {"type": "array", "items": item}, item]}


def _maybe(shape: Json) -> Json:
    return {"anyOf": [{"type": "null"}, shape]}


def _list_of(item: Json) -> Json:
    return {"anyOf": [{"type": "null"}, {"type": "array", "items": item}]}


@lru_cache(maxsize=1)
def record_schema() -> Json:
    """Return the JSON Schema (draft 2020-12) of the record as it may come in.

    Examples
    --------
    >>> record_schema()["required"]
    ['woundfhir', 'patient']
    """
    groups = catalogue().groups
    name = {
        "anyOf": [
            _LEAF,
            _object({"family": _LEAF, "given": {"anyOf": [_LEAF, {"type": "array", "items": _LEAF}]}, "text": _LEAF}),
        ]
    }
    patient = _object(
        {
            "identifiers": _list_of(_leaves(("system", "value"))),
            "name": name,
            "born": _LEAF,
            "sex": _LEAF,
            "allergies": _known_list({"anyOf": [_LEAF, _leaves(form.ALLERGY)]}),
            "conditions": _known_list(_LEAF),
            "contact": _maybe(_leaves(form.CONTACT)),
            "note": _LEAF,
        }
    )
    wound = _object(
        {"id": _NEEDED, "status": _words(form.WOUND_STATUS), **_concepts(groups["wound"]), "note": _LEAF}, ("id",)
    )
    entry = _object(
        {
            "wound": _NEEDED,
            "assessment": _maybe(_object(_concepts(groups["assessment"]))),
            "care": _maybe(_object(_concepts(groups["care"]))),
            "supplies": _list_of({"anyOf": [_LEAF, _object(_concepts(groups["supply"]))]}),
            "plan": _maybe(_object({**_concepts(groups["plan"]), "note": {"anyOf": [_LEAF, _ABSENT]}})),
            "photos": _list_of({"anyOf": [_LEAF, _object(_concepts(groups["photo"]))]}),
            "note": _LEAF,
        },
        ("wound",),
    )
    visit = _object(
        {
            **dict.fromkeys(form.VISIT, _LEAF),
            "id": _NEEDED,
            "by": {"anyOf": [_LEAF, _leaves(form.AUTHOR)]},
            "status": _words(form.VISIT_STATUS),
            **_concepts(groups["visit"]),
            "client": _maybe(_object(_concepts(groups["client"]))),
            "wounds": _list_of(entry),
        },
        ("id",),
    )
    top = _object(
        {
            "woundfhir": {"enum": [form.VERSION, str(form.VERSION)]},
            "zone": _LEAF,
            "patient": patient,
            "wounds": _list_of(wound),
            "visits": _list_of(visit),
            "extra": _list_of(_leaves(form.EXTRA)),
        },
        ("woundfhir", "patient"),
    )
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"{BASE}/record.schema.json",
        "title": "A client's wound record",
        **top,
        "$defs": {"leaf": LEAF_SCHEMA, "absent": ABSENT_SCHEMA},
    }


def _place(path: list[Any]) -> str:
    out = ""
    for part in path:
        out += f"[{part}]" if isinstance(part, int) else f".{part}" if out else str(part)
    return out or "the record"


def _said(rule: str, limit: Json, instance: Json) -> str:
    """Say what was expected; never what was found."""
    if rule == "required":
        missing = [key for key in limit if not isinstance(instance, dict) or key not in instance]
        return f"the key{'s' if len(missing) > 1 else ''} " + " and ".join(f"'{key}'" for key in missing)
    if rule == "type":
        names = {"object": "a set of keys", "array": "a list", "string": "a text", "null": "nothing"}
        return " or ".join(names.get(t, f"a {t}") for t in ([limit] if isinstance(limit, str) else limit))
    if rule == "enum":
        return f"{' or '.join(str(one) for one in limit[:1])}, the version of the record's form"
    if rule in ("pattern", "maxItems", "minItems"):
        return "characters, and a number of items, that are allowed here"
    return "another structure here"


def explain(raw: Json, where: str) -> InputError:
    """Return the error that tells why a record's structure does not fit, without any value of it.

    Parameters
    ----------
    raw
        The decoded record, its keys already in canonical spelling where that could be done.
    where
        The file, for the message.
    """
    from jsonschema import Draft202012Validator
    from jsonschema.exceptions import best_match

    error = best_match(
        e for e in Draft202012Validator(record_schema()).iter_errors(raw) if e.validator != "additionalProperties"
    )
    if error is None:
        return InputError(where, "a wound record", "Compare it with the example that `woundfhir demo` writes")
    while error.context and error.validator == "anyOf":
        deeper = [e for e in error.context if len(e.absolute_path) > len(error.absolute_path)]
        if not deeper:
            break
        error = max(deeper, key=lambda e: len(e.absolute_path))
    path = list(error.absolute_path)
    said = _said(str(error.validator), error.validator_value, error.instance)
    if len(path) == 3 and path[2] == "status":
        said = "one of: " + ", ".join(form.WOUND_STATUS if path[0] == "wounds" else form.VISIT_STATUS)
    return InputError(f"{where}, {_place(path)}", said, "Write it as `woundfhir explain` shows for this key")
