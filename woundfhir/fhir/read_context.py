"""What the readers share while resources are taken in: where things point, what stands where, what was placed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import msgspec

from woundfhir.catalogue.former import FORMER_BASE, current
from woundfhir.fhir.elements import first
from woundfhir.fhir.ids import unescape
from woundfhir.fhir.terms import Terms

Json = Any
Resource = dict[str, Json]

_encode = msgspec.json.Encoder(decimal_format="number").encode


class RecordPlace:
    """The place in the record that a resource belongs to: a visit, or one wound at a visit."""

    __slots__ = ("entry", "place", "visit")

    def __init__(self, visit: dict[str, Json], entry: dict[str, Json], place: str) -> None:
        self.visit = visit
        self.entry = entry
        self.place = place

    def answers(self, group: str) -> dict[str, Json] | None:
        """Return the answers of a group at this place; None where the group does not belong here."""
        if (group == "client") != (self.entry is self.visit):
            return None
        found: dict[str, Json] = self.entry.setdefault(group, {})
        return found


class ReadContext:
    """All resources that came in, and the record that grows from them."""

    def __init__(self, resources: Iterable[Mapping[str, Json]], terms: Terms) -> None:
        self.terms = terms
        self.resources: list[Resource] = []
        self._by_kind: dict[str, list[Resource]] = {}
        self.by_ref: dict[str, Resource] = {}
        self.full_urls: dict[int, str] = {}
        self.own: dict[int, str | None] = {}
        self.places: dict[int, str | None] = {}
        self.reasons: dict[int, str] = {}
        self.system: str | None = None
        self.parts: dict[int, list[Resource]] = {}
        self._order: dict[int, list[tuple[int, Json]]] = {}
        self._take(resources)

    # -- what came in --------------------------------------------------------------------------

    def _take(self, resources: Iterable[Mapping[str, Json]]) -> None:
        given = [came if isinstance(came, dict) else dict(came) for came in resources]
        if FORMER_BASE.encode() in _encode(given):
            given = current(given)
        for resource in given:
            if resource.get("resourceType") == "Bundle":
                for inner, full_url in _unbundled(resource):
                    self._keep(inner, full_url)
            else:
                self._keep(resource, None)

    def _keep(self, resource: Resource, full_url: str | None) -> None:
        self.resources.append(resource)
        self._by_kind.setdefault(str(resource.get("resourceType")), []).append(resource)
        if "id" in resource:
            self.by_ref[f"{resource.get('resourceType')}/{resource['id']}"] = resource
        if full_url:
            self.by_ref[full_url] = resource
            self.full_urls[id(resource)] = full_url

    def of(self, kind: str) -> list[Resource]:
        """Return the resources of one kind, in the order in which they came."""
        return self._by_kind.get(kind, [])

    def follow(self, ref: Json, holder: Mapping[str, Json] | None = None) -> Resource | None:
        """Return the resource that a Reference points at: relative, absolute, urn:uuid, or contained."""
        target = ref.get("reference") if isinstance(ref, dict) else ref
        if not isinstance(target, str):
            return None
        found = self.by_ref.get(target)
        if found is None and target.startswith("#") and holder is not None:
            return next((c for c in holder.get("contained", ()) if c.get("id") == target[1:]), None)
        if found is None and target.count("/") > 1:
            found = self.by_ref.get("/".join(target.split("/_history")[0].rsplit("/", 2)[-2:]))
        return found

    # -- where it belongs ----------------------------------------------------------------------

    def place(self, resource: Resource) -> str | None:
        """Return the place that our own identifier names, or None for a resource that others wrote."""
        key = id(resource)
        if key not in self.own:
            named = resource.get("identifier") or []
            named = named if isinstance(named, list) else [named]
            self.own[key] = next(
                (i.get("value") for i in named if self.system is not None and i.get("system") == self.system), None
            )
        return self.own[key]

    def index(self, resource: Resource) -> int | None:
        """Return the number at the end of our own place, or None."""
        place = self.place(resource)
        last = place.rsplit("/", 1)[-1] if place else ""
        return int(last) if last.isascii() and last.isdigit() and place and place.count("/") > 1 else None

    def placed(self, resource: Resource, place: str | None) -> None:
        """Note that a resource is understood: the place where our writer puts the same, or None for another shape."""
        self.places[id(resource)] = place

    def refuse(self, resource: Resource, why: str) -> None:
        """Note why a resource is not understood."""
        self.reasons.setdefault(id(resource), why)

    # -- lists, in the order that our own places name -----------------------------------------

    def append(self, answers: dict[str, Json], key: str, item: Json, resource: Resource, place: str) -> bool:
        """Add one item to a list answer in its order; False where the answer is already something else."""
        items = answers.setdefault(key, [])
        if not isinstance(items, list):
            return False
        ranked = self._order.setdefault(id(items), [])
        rank = self.index(resource) or len(ranked) + 1
        ranked.append((rank, item))
        items.append(item)
        if len(ranked) > 1 and ranked[-2][0] > rank:
            ranked.sort(key=lambda pair: pair[0])
            items[:] = [one for _, one in ranked]
        self.placed(resource, f"{place}/{rank}")
        return True


def _unbundled(bundle: Resource) -> Iterator[tuple[Resource, str | None]]:
    """Yield the resources of a Bundle; references by urn:uuid to an entry with an id become relative."""
    entries = [e for e in bundle.get("entry", ()) if isinstance(e.get("resource"), dict)]
    names = {
        e["fullUrl"]: f"{e['resource'].get('resourceType')}/{e['resource']['id']}"
        for e in entries
        if str(e.get("fullUrl", "")).startswith("urn:") and "id" in e["resource"]
    }
    for entry in entries:
        inner = entry["resource"]
        yield (rename(inner, names) if names else inner), entry.get("fullUrl")


def rename(value: Json, names: Mapping[str, str]) -> Json:
    """Return a copy in which every literal reference is renamed."""
    if isinstance(value, dict):
        return {
            key: names.get(item, item) if key == "reference" and isinstance(item, str) else rename(item, names)
            for key, item in value.items()
        }
    if isinstance(value, list):
        return [rename(item, names) for item in value]
    return value


def own_id(source: ReadContext, resource: Resource) -> str:
    """Return the record's id for a wound or a visit: from our identifier, else their identifier, else their id."""
    place = source.place(resource)
    if place is not None:
        return unescape(place)
    named = first(resource.get("identifier")).get("value")
    return str(named or resource.get("id") or source.full_urls.get(id(resource), ""))
