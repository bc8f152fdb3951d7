"""The JSON Schema of the record, generated from the catalogue, and the words for a structure that does not fit."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from woundfhir.catalogue import Concept, catalogue, frame, per_catalogue
from woundfhir.errors import InputError
from woundfhir.limits import TOO_LONG, fits
from woundfhir.record.answers import ABSENT_SCHEMA, LEAF_SCHEMA
from woundfhir.record.frame import part_schema
from woundfhir.record.leaf import is_plain

Json = Any


@per_catalogue()
def record_schema() -> Json:
    """Return the JSON Schema (draft 2020-12) of the record as it may come in.

    Examples
    --------
    >>> record_schema()["required"]
    ['woundfhir', 'patient']
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"{catalogue().bases[-1]}/record.schema.json",
        "title": "A client's wound record",
        **part_schema(frame().record),
        "$defs": {"leaf": LEAF_SCHEMA, "absent": ABSENT_SCHEMA},
    }


_KEY = "the key"


def _place(path: list[Any]) -> str:
    """Return a path in words. A key that the record does not define is a nurse's own word, and stands as ``?``."""
    out = ""
    for part in path:
        name = part if isinstance(part, int) or part in _keys() else "?"
        out += f"[{name}]" if isinstance(part, int) else f".{name}" if out else str(name)
    return out or "the record"


@per_catalogue()
def _keys() -> frozenset[str]:
    """Every key that the schema names."""
    found: set[str] = set()
    todo: list[Json] = [record_schema()]
    while todo:
        one = todo.pop()
        if isinstance(one, dict):
            found |= one["properties"].keys() if isinstance(one.get("properties"), dict) else set()
            todo += one.values()
        elif isinstance(one, list):
            todo += one
    return frozenset(found)


def _expected(rule: str, limit: Json, instance: Json) -> str:
    """Say what was expected; never what was found."""
    if rule == "required":
        missing = [key for key in limit if not isinstance(instance, dict) or key not in instance]
        return f"{_KEY}{'s' if len(missing) > 1 else ''} " + " and ".join(f"'{key}'" for key in missing)
    if rule == "type":
        names = {"object": "a set of keys", "array": "a list", "string": "a text", "null": "nothing"}
        return " or ".join(names.get(t, f"a {t}") for t in ([limit] if isinstance(limit, str) else limit))
    if rule == "enum":
        return f"{' or '.join(str(one) for one in limit[:1])}, the version of the record's form"
    if rule in ("pattern", "maxItems", "minItems"):
        return "characters, and a number of items, that are allowed here"
    return "another structure here"


#: Most places that one message names.
_MOST_SHOWN = 6


def explain(raw: Json, where: str) -> InputError:
    """Return the error that says why a record's structure does not fit, all places at once, without any value of it.

    Parameters
    ----------
    raw
        The decoded record, its keys already in canonical spelling where that could be done.
    where
        The file, for the message.
    """
    from jsonschema import Draft202012Validator

    errors = Draft202012Validator(record_schema()).iter_errors(raw)
    faults = dict(_fault(leaf) for error in errors for leaf in _broken(error))
    if not faults:
        return InputError(where, "a wound record", "Compare it with the example that `woundfhir demo` writes")
    fix = "Write it as `woundfhir explain` shows for this key"
    if len(faults) == 1:
        ((place, expected),) = faults.items()
        if (asked := _concept(place)) is not None:
            fix = f"`woundfhir explain {asked.path}` shows how it is written"
        elif expected.startswith(_KEY):
            fix = "Add it"
        return InputError(f"{where}, {place}", expected, fix)
    listed = [f"{place}: {expected}" for place, expected in sorted(faults.items())]
    if len(listed) > _MOST_SHOWN:
        listed[_MOST_SHOWN:] = [f"and {len(listed) - _MOST_SHOWN} more"]
    return InputError(where, "; ".join(listed), fix, found=f"{len(faults)} places do not fit")


def _broken(error: Any) -> list[Any]:
    """Return the rules that an error comes down to, each the deepest of its branch; a key too many breaks none.

    Of several forms that may stand somewhere, the one that fits deepest is the one that was meant.
    """
    if error.validator == "additionalProperties":
        return []
    if error.validator != "anyOf" or not error.context:
        return [error]
    forms: dict[int, list[Any]] = {}
    for inner in error.context:
        forms.setdefault(inner.schema_path[0], []).extend(_broken(inner))
    if not all(forms.values()):
        return []
    meant = max(forms.values(), key=lambda found: max(len(one.absolute_path) for one in found))
    return (
        meant if any(len(one.absolute_path) > len(error.absolute_path) for one in meant) else [_of_form(error, meant)]
    )


def _of_form(error: Any, meant: list[Any]) -> Any:
    """Return the one missing key of a set of keys, or the error of all forms together."""
    missing = [one for one in meant if one.validator == "required"]
    return missing[0] if missing and isinstance(error.instance, dict) else error


def _concept(place: str) -> Concept | None:
    """Return the concept whose answer stands at a place in words."""
    group, _, key = re.sub(r"\[\d+\]", "", place).rpartition(".")
    return catalogue().groups.get(group.rpartition(".")[2], {}).get(key)


def _fault(error: Any) -> tuple[str, str]:
    """Return the place of one broken rule, the deepest that it has, and what was expected there."""
    path = list(error.absolute_path)
    key = frame().at(path)
    if key is not None and key.shape == "word":
        return _place(path), "one of: " + ", ".join(key.words)
    place = _place(path)
    if isinstance(error.instance, (int, float, Decimal)) and not fits(error.instance):
        return place, TOO_LONG[0]
    if isinstance(error.instance, str) and not is_plain(error.instance):
        return place, "text without control characters"
    if error.validator == "anyOf" and (asked := _concept(place)) is not None and asked.asked is not None:
        return place, asked.asked.example
    return place, _expected(str(error.validator), error.validator_value, error.instance)
