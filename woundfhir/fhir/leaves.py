"""The leaves of a resource: what of it says something, where, and where two resources say the same."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

Json = Any
Path = tuple[Any, ...]

#: A server's and a sender's own affairs, and what is made from the rest for people to read.
ASIDE = frozenset(("id", "meta", "text", "resourceType", "implicitRules", "language"))


def every(value: Json, path: Path = ()) -> Iterator[tuple[Path, Json]]:
    """Yield path and value of each leaf, whatever it is.

    Examples
    --------
    >>> list(every({"name": [{"family": "Roe"}]}))
    [(('name', 0, 'family'), 'Roe')]
    """
    if isinstance(value, Mapping):
        for key, item in value.items():
            yield from every(item, (*path, key))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from every(item, (*path, index))
    elif value is not None:
        yield path, value


def total(value: Json) -> int:
    """Return how many leaves there are.

    Examples
    --------
    >>> total({"resourceType": "Patient", "name": [{"given": ["A", "B"]}]})
    3
    """
    if isinstance(value, Mapping):
        return sum(total(item) for item in value.values())
    if isinstance(value, list):
        return sum(total(item) for item in value)
    return 0 if value is None else 1


def leaves(value: Json, path: Path = ()) -> Iterator[tuple[Path, Json]]:
    """Yield path and value of each leaf that says something: no ids, no narrative, no URLs of extensions.

    Examples
    --------
    >>> list(leaves({"resourceType": "Patient", "id": "p", "birthDate": "1948-03"}))
    [(('birthDate',), '1948-03')]
    """
    if isinstance(value, Mapping):
        extension = len(path) > 1 and path[-2] in ("extension", "modifierExtension")
        for key, item in value.items():
            if (not path and key in ASIDE) or (extension and key == "url"):
                continue
            yield from leaves(item, (*path, key))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from leaves(item, (*path, index))
    elif value is not None:
        yield path, value


def words(path: Path) -> str:
    """Return a path as people write it.

    Examples
    --------
    >>> words(("component", 1, "valueQuantity", "unit"))
    'component[1].valueQuantity.unit'
    """
    text = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path)
    return text.removeprefix(".")


def equal(came: Json, said: Json, path: Path) -> Iterator[Path]:
    """Yield the leaves at which two say the same; items of lists are held against those that are alike."""
    if isinstance(came, Mapping) and isinstance(said, Mapping):
        for key, item in came.items():
            if key in said and (path or key not in ASIDE):
                yield from equal(item, said[key], (*path, key))
    elif isinstance(came, list) and isinstance(said, list):
        free = list(range(len(said)))
        for index, item in enumerate(came):
            at = next((n for n in free if _alike(item, said[n], index == n)), None)
            if at is not None:
                free.remove(at)
                yield from equal(item, said[at], (*path, index))
    elif came is not None and came == said:
        yield path


def _alike(came: Json, said: Json, same_index: bool) -> bool:
    if not isinstance(came, Mapping) or not isinstance(said, Mapping):
        return bool(came == said)
    code, ours = came.get("code"), said.get("code")
    if isinstance(code, str) and "system" in came:
        return (came.get("system"), code) == (said.get("system"), ours)
    if isinstance(code, Mapping) and isinstance(ours, Mapping):
        return bool(_codes(code) & _codes(ours))
    for key in ("reference", "value", "url"):
        if isinstance(came.get(key), str):
            return bool(came[key] == said.get(key))
    return same_index


def _codes(concept: Mapping[str, Json]) -> set[tuple[str, str]]:
    """Return the codes of a CodeableConcept, which may be of any structure: it came from outside."""
    found = concept.get("coding")
    codings = [one for one in found if isinstance(one, Mapping)] if isinstance(found, list) else []
    return {(str(one.get("system")), str(one.get("code"))) for one in codings}


def covers(ours: Json, came: Json) -> bool:
    """Whether ours says all that came says: every member and, in order, every item of it.

    Examples
    --------
    >>> covers({"text": "left", "coding": [{"code": "7771000"}]}, {"coding": [{"code": "7771000"}]})
    True
    """
    if isinstance(ours, dict) and isinstance(came, dict):
        return all(key in ours and covers(ours[key], value) for key, value in came.items())
    if isinstance(ours, list) and isinstance(came, list):
        rest = iter(ours)
        return all(any(covers(one, item) for one in rest) for item in came)
    return bool(ours == came)
