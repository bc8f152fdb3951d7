"""What a server adds to the resources that it keeps, taken away again: its ids, its versions, its own marks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any
from uuid import UUID

from woundfhir.catalogue import BASE
from woundfhir.fhir.ids import uuid5
from woundfhir.fhir.keys import in_order, in_record_form
from woundfhir.fhir.references import identifiers_of, rename
from woundfhir.server.documents import is_ours as is_document
from woundfhir.server.withdrawing import is_withdrawn

Json = Any
Resource = dict[str, Json]


def in_record_shape(came: Iterable[Resource], base: str) -> list[Resource]:
    """Return resources as they were sent: our ids, no version of the server's, nothing that we withdrew ourselves.

    Examples
    --------
    >>> named = [{"system": "urn:uuid:2e6d6d5e-6666-59c1-9e19-50cf8d02d579", "value": "contact"}]
    >>> team = {"resourceType": "CareTeam", "id": "7", "meta": {"versionId": "3"}, "identifier": named}
    >>> in_record_shape([team], "https://example.org")[0]["id"]
    'eee3a668-5f4e-5201-bb7b-f04e9295e152'
    """
    kept = [in_record_form(one) for one in in_order(came) if not is_withdrawn(one) and not is_document(one)]
    names: dict[str, str] = {}
    made = []
    spaces = {space for one in kept if (found := _place(one)) for space in (found[0],)}
    for one in kept:
        old = f"{one['resourceType']}/{one.get('id')}"
        place = _place(one)
        if place is None and one["resourceType"] == "Patient" and len(spaces) == 1:
            place = next(iter(spaces)), "patient"
        name = uuid5(place[0], f"{one['resourceType']}/{place[1]}") if place else one.get("id")
        names[old] = names[f"{base}/{old}"] = f"{one['resourceType']}/{name}"
        made.append({**one, "id": name} if name else one)
    return [_meta(rename(one, names)) for one in made]


def _place(resource: Resource) -> tuple[bytes, str] | None:
    """The namespace and the place that an identifier of ours names."""
    for one in identifiers_of(resource):
        system, value = str(one.get("system")), one.get("value")
        if system.startswith("urn:uuid:") and isinstance(value, str):
            try:
                space = UUID(system.removeprefix("urn:uuid:"))
            except ValueError:
                continue
            if space.version == 5:
                return space.bytes, value
    return None


def _meta(resource: Resource) -> Resource:
    meta = resource.get("meta")
    if not isinstance(meta, dict):
        return resource
    kept = {key: value for key, value in meta.items() if key not in ("versionId", "lastUpdated")}
    source = kept.get("source")
    if isinstance(source, str):  # some servers add the number of the request behind a #
        plain = source.split("#")[0]
        kept = {**kept, "source": plain} if plain else {key: value for key, value in kept.items() if key != "source"}
    if kept.get("source") == BASE and set(kept) == {"source"}:
        return {**resource, "meta": kept}
    return {key: value for key, value in {**resource, "meta": kept}.items() if value != {}}


def kept_out(came: Iterable[Resource]) -> str:
    """Return in words what of a server's own is left out of the record: elements, and of how many resources.

    Examples
    --------
    >>> meta = {"versionId": "3", "lastUpdated": "2026-03-02T10:00:00Z", "source": "#a1"}
    >>> kept_out([{"resourceType": "Flag", "id": "7", "meta": meta}, {"resourceType": "Flag", "id": "8"}])
    'id (2), meta.lastUpdated (1), meta.source (1), meta.versionId (1)'
    """
    counts: Counter[str] = Counter()
    for one in came:
        meta = one.get("meta")
        found = meta if isinstance(meta, dict) else {}
        counts.update(["id"] if "id" in one else [])
        counts.update(f"meta.{key}" for key in ("versionId", "lastUpdated") if key in found)
        counts.update(["meta.source"] if "#" in str(found.get("source", "")) else [])
    return ", ".join(f"{name} ({number})" for name, number in sorted(counts.items()))
