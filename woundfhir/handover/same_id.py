"""Two things under one id: what came gets an id of its own, so that no wound or visit is joined to another's."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.fhir.ids import escape
from woundfhir.handover.compare import same
from woundfhir.handover.texts import say
from woundfhir.record import History, dates
from woundfhir.record.labels import Labels

Json = Any
Item = dict[str, Json]


def keep_apart(known: History, came: History) -> tuple[History, list[tuple[str, str]]]:
    """Return what came with new ids where its wound or visit is another one, and what was renamed and why.

    A wound is another one when its site or side contradicts the known one (both words of the catalogue, or the
    side). A visit is another one when its time contradicts the known one, or its author does. The new id follows
    from the old one, so that receiving again finds it again.

    Examples
    --------
    >>> here = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1", "side": "left"}]}
    >>> there = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1", "side": "right"}]}
    >>> keep_apart(History.of(here), History.of(there))[0].wounds
    [{'id': 'W1 (received)', 'side': 'right'}]
    """
    wounds = _names(known.wounds, came.wounds, _other_wound)
    visits = _names(known.visits, came.visits, _other_visit)
    if not wounds and not visits:
        return came, []
    names = Labels(known)
    said = [(names.wound(old), say("difference.two_wounds")) for old in wounds]
    said += [(names.visit(old), say("difference.two_visits")) for old in visits]
    data = dict(came.data)
    data["wounds"] = [{**wound, "id": wounds.get(wound["id"], wound["id"])} for wound in came.wounds]
    data["visits"] = [_renamed(visit, wounds, visits) for visit in came.visits]
    if came.extra:
        data["extra"] = [_moved(item, wounds, visits) for item in came.extra]
    return History(data, came.source), said


def _names(known: list[Item], came: list[Item], other: Callable[[Item, Item], bool]) -> dict[str, str]:
    here = {item["id"]: item for item in known}
    taken = {item["id"] for item in came}
    out: dict[str, str] = {}
    for item in came:
        name, number = item["id"], 1
        while (name in here and other(here[name], item)) or (name != item["id"] and name in taken):
            name = f"{item['id']} (received{f' {number}' if number > 1 else ''})"
            number += 1
        if name != item["id"]:
            out[item["id"]] = name
            taken.add(name)
    return out


def _other_wound(known: Item, came: Item) -> bool:
    concepts = catalogue().groups["wound"]
    for key in ("site", "side"):
        one, two = known.get(key), came.get(key)
        answers = concepts[key].answers
        if answers is not None and answers.find(one) and answers.find(two) and not same(one, two, concepts[key]):
            return True
    return False


def _other_visit(known: Item, came: Item) -> bool:
    one, two = known.get("at"), came.get("at")
    if dates.earlier(one, two) or dates.earlier(two, one):
        return True
    if came.get("status") in ("amended", "entered in error"):
        return False
    mine, theirs = known.get("by", {}), came.get("by", {})
    key = next((key for key in ("id", "name") if key in mine and key in theirs), None)
    return key is not None and mine[key] != theirs[key]


def _renamed(visit: Item, wounds: Mapping[str, str], visits: Mapping[str, str]) -> Item:
    out = {**visit, "id": visits.get(visit["id"], visit["id"])}
    if "replaces" in visit:
        out["replaces"] = visits.get(visit["replaces"], visit["replaces"])
    if "wounds" in visit:
        out["wounds"] = [{**entry, "wound": wounds.get(entry["wound"], entry["wound"])} for entry in visit["wounds"]]
    return out


def _moved(item: dict[str, str], wounds: Mapping[str, str], visits: Mapping[str, str]) -> dict[str, str]:
    """What was kept beside a wound or a visit goes with it."""
    if item.get("from") == "record" or "place" not in item:
        return item
    parts = item["place"].split("/")
    by_wound = {escape(old): escape(new) for old, new in wounds.items()}
    if item["from"].split("/")[0] in ("Condition", "BodyStructure"):
        parts[0] = by_wound.get(parts[0], parts[0])
    else:
        parts[0] = {escape(old): escape(new) for old, new in visits.items()}.get(parts[0], parts[0])
        parts[1:2] = [by_wound.get(part, part) for part in parts[1:2]]
    return {**item, "place": "/".join(parts)}
