"""The way out of what came: a resource of somebody else's goes out as that resource, under its id.

It does so as long as the record says what it said when the resource came. Where an answer was edited since, our
writing of it stands, with the elements of theirs that still fit; what no longer fits is carried, word for word.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from woundfhir.fhir.carrying import WHOLE, carry
from woundfhir.fhir.ids import digest, id_by_content, uuid5
from woundfhir.fhir.losses import BOOKKEEPING
from woundfhir.fhir.reasons import SUPERSEDED, UNDER_ONE_ID
from woundfhir.fhir.references import references, rename
from woundfhir.fhir.write_context import Resource, WriteContext
from woundfhir.record import History
from woundfhir.record.canonical import as_json, from_json

Json = Any
Item = Mapping[str, str]


def came_names(pairs: Iterable[tuple[Mapping[str, Json], Resource]]) -> dict[str, str]:
    """Return how our references are renamed: a resource that came keeps its own id, and all references follow.

    Examples
    --------
    >>> came_names([({"resourceType": "Patient", "id": "p"}, {"resourceType": "Patient", "id": "x"})])
    {'Patient/x': 'Patient/p'}
    """
    return {
        f"{mine['resourceType']}/{mine['id']}": f"{came['resourceType']}/{came['id']}"
        for came, mine in pairs
        if isinstance(came.get("id"), str) and came["id"] != mine["id"]
    }


def put_back(resources: list[Resource], history: History, out: WriteContext) -> tuple[list[Resource], dict[str, str]]:
    """Put back everything that came.

    Returns
    -------
    resources, names
        With what came in its place or beside; and how our references were renamed.
    """
    back = _Back(resources, out)
    for item in history.extra:
        back.take(item)
    return back.done()


class _Back:
    """One history on its way out, with what was kept of what came."""

    def __init__(self, resources: list[Resource], out: WriteContext) -> None:
        self.ours = resources
        self.out = out
        self.index = {(r["resourceType"], r["id"]): n for n, r in enumerate(resources)}
        self.made: list[Resource | None] = list(resources)
        self.names: dict[str, str] = {}
        #: What was named in another way by somebody: holds for all where nothing of that name goes out.
        self.named: dict[str, str] = {}
        self.rest: list[Item] = []
        self.whole: list[Resource] = []
        #: Names of those among them that are versions of what goes out in its place.
        self.versions: set[str] = set()
        #: Places of ours that stand for a resource verbatim: nothing in them is renamed.
        self.verbatim: set[int] = set()

    def take(self, item: Item) -> None:
        """Take one thing that was kept."""
        if item.get("why") == BOOKKEEPING and item.get("from") == "server":
            self._server(from_json(item["came"]))
        elif item.get("from") == WHOLE:
            self.rest.append(item)
            self._name(from_json(item["came"]))
        elif item.get("from") == "record" or ("value" not in item and "place" not in item):
            self.rest.append(item)
        elif "place" in item and "value" in item and not {"element", "ours"} & item.keys():
            self.rest.append(item)  # of a table: no resource came
        elif "element" in item:
            self._element(item)
        elif "place" in item and "value" in item:
            self._replace(item)
        elif "place" in item:
            self._drop(item)
        elif "ours" in item and not _stands(self.out.history, from_json(item["ours"])):
            # Edited since: what came would contradict it, and is carried.
            self.rest.append({**{key: item[key] for key in ("from", "why")}, "came": item["value"]})
        else:
            self.whole.append(from_json(item["value"]))
            if item["why"] == SUPERSEDED.words or UNDER_ONE_ID in item["why"]:
                self.versions.add(_name_of(self.whole[-1]))

    def _at(self, kind: str, place: str) -> int | None:
        return self.index.get((kind, self.out.id(kind, place)))

    def _server(self, stamps: Mapping[str, Mapping[str, str]]) -> None:
        for where, stamp in stamps.items():
            kind, _, place = where.partition("/")
            at = self._at(kind, place)
            if at is not None and "id" in stamp and (mine := self.made[at]) is not None:
                self.names[f"{kind}/{mine['id']}"] = f"{kind}/{stamp['id']}"
                version = {"versionId": stamp["versionId"]} if "versionId" in stamp else {}
                self.made[at] = {**mine, "id": stamp["id"], "meta": {**mine["meta"], **version}}

    def _element(self, item: Item) -> None:
        kind = item["from"].split("/")[0]
        at = self._at(kind, item.get("place", ""))
        if at is None or not _fits(self.ours[at], item):
            self.rest.append(item)
            return
        came, mine = from_json(item["came"]), self.made[at] or self.ours[at]
        if item["element"] in self.ours[at] and _kind(came) is not _kind(self.ours[at][item["element"]]):
            self.rest.append(item)  # a text for an object: in the place of ours nobody would read what ours says
            return
        if item["element"] == "id":
            self.names[f"{kind}/{self.ours[at]['id']}"] = f"{kind}/{came}"
        self.named.update(_renamed(self.ours[at].get(item["element"]), came))
        self.made[at] = {**mine, item["element"]: came}

    def _replace(self, item: Item) -> None:
        """The resource that came, where ours still says the same; else its elements that still fit."""
        came = from_json(item["value"])
        kind = str(came.get("resourceType"))
        at, then = self._at(kind, item["place"]), from_json(item["ours"])
        if at is None or at in self.verbatim:
            self.rest.append(item)
            return
        mine = self.ours[at]
        if isinstance(came.get("id"), str):
            self.names[f"{kind}/{mine['id']}"] = f"{kind}/{came['id']}"
        same = {key for key in {*mine, *then} if (digest(mine[key]) if key in mine else None) == then.get(key)}
        if same >= {*mine, *then}:
            self.made[at] = came
            self.verbatim.add(at)
            return
        fits = {key: value for key, value in came.items() if key in same or (key not in mine and key not in then)}
        self.made[at] = {**mine, **fits}
        for key, value in came.items():
            if key not in fits:
                kept = {"from": item["from"], "place": item["place"], "element": key, "why": item["why"]}
                self.rest.append({**kept, "came": as_json(value), **({"ours": "{}"} if key in mine else {})})

    def _name(self, item: Item) -> None:
        """Ours that goes out for one that the format cannot say has its id: by that the others that came name it."""
        came = from_json(item["value"]) if {"place", "value", "ours"} <= item.keys() else {}
        at = self._at(str(came.get("resourceType")), item.get("place", ""))
        if at is None or at in self.verbatim or not isinstance(came.get("id"), str):
            return
        self.names[f"{came['resourceType']}/{self.ours[at]['id']}"] = f"{came['resourceType']}/{came['id']}"
        self.made[at] = {**(self.made[at] or self.ours[at]), "id": came["id"]}

    def _drop(self, item: Item) -> None:
        """What was named and did not come is named again, and not made up, unless more is known of it by now."""
        kind = item["from"].split("/")[0]
        at, name = self._at(kind, item["place"]), from_json(item["came"])
        ours = {} if at is None else {key: digest(value) for key, value in self.ours[at].items()}
        if at is None or "ours" not in item or ours != from_json(item["ours"]):
            self.rest.append(item)
        elif not name.startswith(("identifier:", "#")):
            self.names[f"{kind}/{self.ours[at]['id']}"] = name
            self.made[at] = None

    def done(self) -> tuple[list[Resource], dict[str, str]]:
        """Return everything, and the names."""
        self._tell_apart()
        self._name_the_nameless()
        here = {f"{mine['resourceType']}/{mine['id']}" for mine, one in zip(self.ours, self.made, strict=True) if one}
        self.names = {**{name: to for name, to in self.named.items() if name not in here}, **self.names}
        made = [
            one if n in self.verbatim or not self.names else rename(one, self.names)
            for n, one in enumerate(self.made)
            if one is not None
        ]
        if self.rest:
            carrier = carry(self.out, self.rest)
            made.append(rename(carrier, self.names) if self.names else carrier)
        return made + self.whole, self.names

    def _tell_apart(self) -> None:
        """Give ours another id where something else came under it: a part of a damaged record of ours may have."""
        theirs = {_name_of(one) for one in self.whole} - self.versions
        for n, one in enumerate(self.made):
            if one is not None and n not in self.verbatim and _name_of(one) in theirs:
                new = uuid5(self.out.bytes, f"{_name_of(one)} beside it")
                self.names[_name_of(self.ours[n])] = f"{one['resourceType']}/{new}"
                self.made[n] = {**one, "id": new}

    def _name_the_nameless(self) -> None:
        """Give what came without an id, and is referred to, the id that it has in a Bundle."""
        nameless = [n for n in self.verbatim if "id" not in (self.made[n] or {})]
        if not nameless:
            return
        others = (one for n, one in enumerate(self.made) if one is not None and n not in self.verbatim)
        referred = {literal for one in others for literal in references(one)}
        for n in nameless:
            mine, came = self.ours[n], self.made[n]
            if came is not None and self.out.literal(mine["resourceType"], mine["id"]) in referred:
                self.made[n] = made = {"resourceType": None, "id": id_by_content(came), **came}
                self.names[_name_of(mine)] = _name_of(made)


def _name_of(resource: Mapping[str, Json]) -> str:
    return f"{resource.get('resourceType')}/{resource.get('id')}"


def _stands(history: History, where: list[Json]) -> bool:
    """Whether the record still holds the answer, or each of several, that a resource of another shape gave."""
    if isinstance(where[0], list):
        return all(_stands(history, one) for one in where)
    visit_id, wound_id, group, key, field, answer = where
    for visit in history.visits:
        entries = visit.get("wounds", ()) if visit["id"] == visit_id else ()
        for entry in entries:
            found = entry.get(group, {}).get(key) if entry["wound"] == wound_id else None
            items = found if isinstance(found, list) else [found]
            if any((one.get(field) if field and isinstance(one, dict) else one) == answer for one in items):
                return True
    return False


def _renamed(ours: Json, came: Json) -> dict[str, str]:
    """A reference of theirs to what we name otherwise: all of ours to it take their name."""
    if isinstance(ours, dict) and isinstance(came, dict) and "reference" in ours:
        to = came.get("reference")
        return {ours["reference"]: to} if isinstance(to, str) else {}
    return {}


def _kind(value: Json) -> type | None:
    return next((kind for kind in (dict, list) if isinstance(value, kind)), None)


def _fits(resource: Resource, item: Item) -> bool:
    """Whether ours still says what it said when the element came."""
    key = item["element"]
    return as_json(resource[key]) == item.get("ours") if key in resource else "ours" not in item
