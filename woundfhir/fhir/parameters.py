"""What an operation answered: a Parameters that holds resources, opened.

Source: HL7 FHIR R4, Parameters (``parameter.resource``, ``parameter.part``) and operations: what an operation gives
back is a Parameters whose one resource, or each of several, is the answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Json = Any
Resource = dict[str, Json]
#: Parts in parts; R4 sets no limit, and no operation of its own has more than two.
_DEPTH = 8


def opened(resource: Mapping[str, Json]) -> tuple[list[Resource], Resource] | None:
    """Return the resources in a Parameters, in their order, and the Parameters without them; None for anything else.

    Examples
    --------
    >>> client = {"resourceType": "Patient", "id": "p"}
    >>> opened({"resourceType": "Parameters", "parameter": [{"name": "return", "resource": client}]})
    ([{'resourceType': 'Patient', 'id': 'p'}], {'resourceType': 'Parameters', 'parameter': [{'name': 'return'}]})
    >>> opened(client) is None
    True
    """
    if resource.get("resourceType") != "Parameters":
        return None
    found: list[Resource] = []
    rest = {**resource, "parameter": _without(resource.get("parameter"), found, _DEPTH)}
    return (found, rest) if found else None


def says_more(rest: Json) -> bool:
    """Whether a Parameters without its resources says anything but the names of its parts.

    Examples
    --------
    >>> parts = [{"name": "return"}, {"name": "count", "valueInteger": 3}]
    >>> [says_more({"resourceType": "Parameters", "parameter": parts[:number]}) for number in (1, 2)]
    [False, True]
    """
    if isinstance(rest, list):
        return any(says_more(one) for one in rest)
    if isinstance(rest, dict):
        known = ("resourceType", "id", "meta", "name")
        return any(says_more(value) for key, value in rest.items() if key not in known)
    return True


def _without(parts: Json, found: list[Resource], depth: int) -> Json:
    if not isinstance(parts, list) or not depth:
        return parts
    return [_part(one, found, depth) for one in parts]


def _part(part: Json, found: list[Resource], depth: int) -> Json:
    if not isinstance(part, dict):
        return part
    left = dict(part)
    if isinstance(held := left.get("resource"), dict) and isinstance(held.get("resourceType"), str):
        found.append(held)
        del left["resource"]
    if "part" in left:
        left["part"] = _without(left["part"], found, depth - 1)
    return left
