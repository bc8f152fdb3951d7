"""References on their way to a server that has none of the resources yet."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from woundfhir.fhir.came import Arrived, Came
from woundfhir.fhir.references import address, is_relative, references, rename
from woundfhir.record.clients import REFERENCE

Json = Any
Resource = dict[str, Json]


def at_home(resources: list[Resource]) -> list[Resource]:
    """Return resources whose references mean the same on a server that has none of them yet.

    A reference with the version or the address of another server, to what is sent too, leads to that. A relative one
    to what is not sent would name whatever the server has under that id, or be refused: it becomes a logical one, that
    names it as its sender did.

    Examples
    --------
    >>> seen = {"resourceType": "Observation", "id": "l", "focus": [{"reference": "Condition/w/_history/2"}]}
    >>> at_home([{**seen, "encounter": {"reference": "Encounter/e"}}, {"resourceType": "Condition", "id": "w"}])[0]
    ... # doctest: +NORMALIZE_WHITESPACE
    {'resourceType': 'Observation', 'id': 'l', 'focus': [{'reference': 'Condition/w'}],
     'encounter': {'type': 'Encounter', 'identifier': {'system': 'https://w3id.org/woundfhir/reference',
     'value': 'Encounter/e'}}}
    """
    here = {f"{resource['resourceType']}/{resource['id']}" for resource in resources}
    away = {literal for one in resources for literal in references(one)} - here
    if not away:
        return resources
    arrived = Arrived(Came(one, one) for one in resources)
    names: dict[str, str] = {}
    for literal in sorted(away):
        found = None if is_relative(literal) else arrived.follow({"reference": literal})
        if address(literal) in here:
            names[literal] = address(literal)
        elif found is not None and "id" in found:
            names[literal] = f"{found['resourceType']}/{found['id']}"
    return [_logical(rename(resource, names) if names else resource, here) for resource in resources]


def _logical(value: Json, here: Collection[str]) -> Json:
    """Turn relative references to what is not here into logical ones."""
    if isinstance(value, list):
        return [_logical(item, here) for item in value]
    if not isinstance(value, dict):
        return value
    made = {key: _logical(item, here) if isinstance(item, dict | list) else item for key, item in value.items()}
    literal = value.get("reference")
    if not isinstance(literal, str) or literal in here or not is_relative(literal):
        return made
    plain = address(literal)
    kind = {} if plain.startswith("urn:") else {"type": plain.partition("/")[0]}
    rest = {key: item for key, item in made.items() if key != "reference"}
    return {**kind, "identifier": {"system": REFERENCE, "value": plain}, **rest}
