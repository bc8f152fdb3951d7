"""Whether each element holds the kind of value that R4 has there: an object, a list of objects, or a plain value."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.limits import XML_DEPTH
from woundfhir.r4.definitions import elements, primitive, resource_types, types

Json = Any


def of_another_kind(resource: Mapping[str, Json]) -> Iterator[str]:
    """Yield the elements of a resource in which something has another kind than R4 has there (FHIR R4, JSON).

    Elements that R4 does not define, empty lists and ``null`` for a whole element say nothing of that.

    Parameters
    ----------
    resource
        A resource as plain dicts.

    Yields
    ------
    str
        The name of an element of the resource itself, also where the fault is further inside.

    Examples
    --------
    >>> came = {"resourceType": "Observation", "code": "length", "valueQuantity": {"value": {}}, "status": "final"}
    >>> list(of_another_kind(came))
    ['code', 'valueQuantity']
    """
    kind = resource.get("resourceType")
    if kind in resource_types():
        yield from _members(resource, str(kind), 0)


def _members(value: Mapping[str, Json], kind: str, depth: int) -> Iterator[str]:
    for name, element in elements(kind).items():
        if value.get(name) is None:
            continue
        found = value[name]
        items = found if element.many else [found]
        if element.many != isinstance(found, list) or not all(_fits(item, element.type, depth + 1) for item in items):
            yield name


def _fits(item: Json, kind: str, depth: int) -> bool:
    if (written := primitive(kind)) is not None:
        # Null stands in a list whose item has extensions alone; numbers and truth values are also read from texts.
        return item is None or (isinstance(item, str) if written == "string" else not isinstance(item, Mapping | list))
    if not isinstance(item, Mapping) or depth > XML_DEPTH:
        return False
    if kind == "Resource":
        kind = str(item.get("resourceType"))
    return kind not in types() or not any(True for _ in _members(item, kind, depth))
