"""What one side took back that the other side holds as a fact: a resource of others that was entered in error since.

A record of others keeps each resource beside what was read of it, so that both can be seen when two records meet. The
withdrawal is not carried out by itself: which facts of a note hung on it, a person must say.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from woundfhir.catalogue import ENTRY_GROUPS
from woundfhir.fhir.fates import kind_of
from woundfhir.fhir.ids import escape, unescape
from woundfhir.fhir.references import identifiers_of
from woundfhir.fhir.terms import terms
from woundfhir.intake.versions import newer
from woundfhir.record import History

Json = Any


def taken_back(known: History, came: History) -> Iterator[tuple[str, str, str]]:
    """Yield what the two sides hold differently: type of resource, id of its note or wound, and the side that withdrew.

    The side is ``known`` or ``came``. Nothing is yielded where the fact is certainly the newer version.

    Examples
    --------
    >>> body = '{"resourceType": "Observation", "id": "l", "status": "final"}'
    >>> fact = {"from": "Observation/l", "why": "in the record", "ours": '["V1", "W1"]', "value": body}
    >>> back = {**fact, "why": "withdrawn: status: entered in error", "value": body.replace("final", "cancelled")}
    >>> del back["ours"]
    >>> here, there = (History.of({"woundfhir": 1, "patient": {}, "extra": [one]}) for one in (fact, back))
    >>> list(taken_back(here, there)), list(taken_back(here, here))
    ([('Observation', 'V1', 'came')], [])
    """
    for holds, withdrew, side in ((known, came, "came"), (came, known, "known")):
        facts = {item["from"]: item for item in holds.extra if "ours" in item and kind_of(item["why"]) == "kept"}
        for item in withdrew.extra:
            fact = facts.get(item["from"]) if kind_of(item["why"]) == "withdrawn" else None
            if fact is None and (owner := _of_ours(item, holds, withdrew)):
                yield item["from"].partition("/")[0], owner, side
            if fact is None or "/" not in item["from"]:
                continue
            one, other = _resource(fact), _resource(item)
            if one is not None and other is not None and not newer(one, other):
                yield item["from"].partition("/")[0], _owner(fact), side


def _of_ours(item: dict[str, str], holds: History, withdrew: History) -> str:
    """The id of the note of whose answers a resource of ours was withdrawn, where one side holds more than the other.

    The place of a resource of ours is its identifier: ``visit/wound/concept``.
    """
    found = _resource(item) if kind_of(item["why"]) == "withdrawn" else None
    if found is None or not terms().is_ours(found):
        return ""
    for named in identifiers_of(found):
        visit, _, rest = str(named.get("value", "")).partition("/")
        wound = rest.partition("/")[0]
        mine, theirs = (_entry(side, visit, wound) for side in (holds, withdrew))
        if any(mine.get(group, {}).keys() - theirs.get(group, {}).keys() for group in ENTRY_GROUPS):
            return unescape(visit)
    return ""


def _entry(history: History, visit: str, wound: str) -> dict[str, Json]:
    for one in history.visits:
        if escape(one["id"]) == visit and one.get("status") != "entered in error":
            return next((entry for entry in one.get("wounds", ()) if escape(entry["wound"]) == wound), {})
    return {}


def _resource(item: dict[str, str]) -> dict[str, Json] | None:
    try:
        found = json.loads(item.get("value", ""))
    except ValueError:
        return None
    return found if isinstance(found, dict) else None


def _owner(item: dict[str, str]) -> str:
    """The id of the note or wound that the fact stands in."""
    try:
        ours = json.loads(item["ours"])
    except ValueError:
        ours = None
    if isinstance(ours, list) and ours and isinstance(ours[0], str):
        return ours[0]
    return item.get("place", "").partition("/")[0]
