"""The order in which resources are read: the entries of a Bundle have none that says anything.

What others wrote is read by its date, then its id, then its content, so that the same resources in another order are
the same record. What we wrote stands before it in the order in which it came: the places of our lists are numbered,
and the wounds and visits of a record stand as whoever wrote it put them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence, Set
from datetime import UTC, datetime
from itertools import groupby, pairwise
from typing import Any

from woundfhir.fhir.came import Arrived, Came, Resource
from woundfhir.fhir.terms import terms
from woundfhir.record import dates
from woundfhir.record.canonical import as_json

Json = Any
Item = dict[str, Json]
Key = tuple[Any, ...]
#: Elements that say when: that it was so, before those that say when it was written.
_TIMES = (
    *("effectiveDateTime", "effectiveInstant", "effectivePeriod", "performedDateTime", "performedPeriod"),
    *("occurrenceDateTime", "occurrencePeriod", "onsetDateTime", "onsetPeriod", "period", "recordedDate", "created"),
    *("authored", "date", "issued"),
)
_NUMBERS = re.compile(r"(\d+)")


def in_order(came: list[Came]) -> list[Came]:
    """Return what came in the order in which it is read."""
    ours = [one for one in came if terms().is_ours(one.original)]
    others = [one for one in came if not terms().is_ours(one.original)]
    keys = {id(one): _key(one) for one in others}
    others.sort(key=lambda one: keys[id(one)])
    same = {keys[id(one)] for one, after in pairwise(others) if keys[id(one)] == keys[id(after)]}
    if same:
        others.sort(key=lambda one: (keys[id(one)], as_json(one.original) if keys[id(one)] in same else ""))
    return [*ours, *others]


def _key(one: Came) -> Key:
    resource = one.original
    return (
        time_key(_time(resource)),
        str(resource.get("resourceType")),
        name_key(resource.get("id")),
        one.full_url or "",
    )


def _time(resource: Resource) -> Json:
    for key in _TIMES:
        found = resource.get(key)
        found = found.get("start") if isinstance(found, Mapping) else found
        if isinstance(found, str):
            return found
    return None


def time_key(text: Json) -> Key:
    """Return what a time is sorted by: the point in time, what has none last, and the words.

    Examples
    --------
    >>> time_key("2026-03-02T10:00:00-05:00") < time_key("2026-03-02T15:30:00Z") < time_key(None)
    True
    """
    found = dates.moment(text) if isinstance(text, str) else None
    if found is None:
        return (1, datetime.max, as_json(text) if isinstance(text, Mapping) else str(text or ""))
    try:
        plain = found.astimezone(UTC).replace(tzinfo=None) if found.tzinfo else found
    except OverflowError:
        plain = found.replace(tzinfo=None)
    return (0, plain, str(text))


def name_key(name: Json) -> Key:
    """Return what a name is sorted by: its numbers as numbers.

    Examples
    --------
    >>> sorted(["W10", "W2", None], key=name_key)
    ['W2', 'W10', None]
    >>> sorted(["l9", "l"], key=name_key)
    ['l', 'l9']
    """
    if not isinstance(name, str):
        return (1,)
    parts = [part for part in _NUMBERS.split(name) if part]
    key = tuple((0, len(part.lstrip("0")), part.lstrip("0")) if part.isdecimal() else (1, 0, part) for part in parts)
    return (0, key, name)


#: What stands before every visit, as we write it.
_BEFORE = frozenset(("Patient", "AllergyIntolerance", "Condition", "CareTeam", "BodyStructure"))


def as_written(source: Arrived) -> bool:
    """Whether what is ours came in an order in which we write it: the client, wounds, and each visit with its own.

    An export by type keeps the order within each type; its files are read by their names. Of a client of whom nothing
    is known no Patient is written.
    """
    ours = [one for one in source.resources if terms().is_ours(one)]
    kinds = [str(one.get("resourceType")) for one in ours]
    if [kind for kind, _ in groupby(kinds)] == sorted(set(kinds)):
        return True
    visits = {id(one) for one in source.of("Encounter")}
    last = 0
    for number, resource in enumerate(one for one in ours if one.get("resourceType") != "Composition"):
        kind = resource.get("resourceType")
        if (kind == "Patient" and number) or (last and kind in _BEFORE):
            return False
        if kind == "Encounter":
            last = id(resource)
        named = resource.get("encounter") or (resource.get("target") or [None])[0]
        found = id(source.follow(named, resource)) if named else 0
        if found in visits and found != last:
            return False
    return True


def record_key(item: Mapping[str, Json], time: str) -> Key:
    """Return what a wound or a visit of the record is sorted by: when it was, then its id."""
    return (time_key(item.get(time)), name_key(item["id"]))


def together(items: Sequence[Item], name: str, ours: Set[str], key: Callable[[Item], Any]) -> list[Item]:
    """Return items of the record: ours in their order, and each other before the first of ours that comes after it.

    Examples
    --------
    >>> items = [{"id": "b"}, {"id": "x"}, {"id": "a"}, {"id": "c"}]
    >>> [one["id"] for one in together(items, "id", {"b", "x"}, lambda one: one["id"])]
    ['a', 'b', 'c', 'x']
    """
    mine = [one for one in items if one[name] in ours]
    waiting = sorted((one for one in items if one[name] not in ours), key=key, reverse=True)
    out = []
    for one in mine:
        while waiting and key(waiting[-1]) < key(one):
            out.append(waiting.pop())
        out.append(one)
    return [*out, *reversed(waiting)]
