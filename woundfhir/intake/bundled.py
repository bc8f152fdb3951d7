"""What stands in Bundles beside plain resources: Bundles, the versions of a history, and entries that failed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from woundfhir.fhir.came import Resource
from woundfhir.fhir.references import address
from woundfhir.intake import counting
from woundfhir.r4.times import point

Json = Any


def unfolded(bundle: Resource, at: str) -> Iterator[tuple[Resource, str]]:
    """Yield a Bundle and those in it, each of which is a whole with names of its own, and where they stand.

    A batch of searches is answered so (R4, http, batch), and a document is sent so in a message. An entry that deletes
    a Bundle, or asks for one, gives none.

    Examples
    --------
    >>> page = {"resourceType": "Bundle", "type": "searchset"}
    >>> [at for _, at in unfolded({"resourceType": "Bundle", "entry": [{"resource": page}]}, "Bundle")]
    ['Bundle', 'Bundle.entry[0].resource']
    """
    listed = bundle.get("entry")
    entries = listed if isinstance(listed, list) else []
    inner = {n: entry["resource"] for n, entry in enumerate(entries) if _holds_a_bundle(entry)}
    if not inner:
        yield bundle, at
        return
    rest = [
        {key: value for key, value in entry.items() if key != "resource"} if n in inner else entry
        for n, entry in enumerate(entries)
    ]
    yield {**bundle, "entry": rest}, at
    for number, one in inner.items():
        yield from unfolded(one, f"{at}.entry[{number}].resource")


def _holds_a_bundle(entry: Json) -> bool:
    if not isinstance(entry, dict) or not isinstance(entry.get("resource"), dict):
        return False
    request = entry.get("request")
    wanted = not isinstance(request, dict) or counting.method(request.get("method")).counts
    return entry["resource"].get("resourceType") == "Bundle" and wanted


def earlier(entries: Sequence[Resource]) -> frozenset[int]:
    """Return which entries of a history Bundle are of versions that a newer one follows, by their number.

    The oldest versions stand last (R4, http, history); where the server's times say otherwise, the times decide. Of a
    resource that was deleted at the end, the version before is no earlier one: it is what was deleted.

    Examples
    --------
    >>> put = {"method": "PUT", "url": "Observation/a"}
    >>> sorted(earlier([{"request": put}, {"request": put}]))
    [1]
    """
    groups: dict[str, list[int]] = {}
    for number, entry in enumerate(entries):
        if name := _name(entry):
            groups.setdefault(name, []).append(number)
    found: set[int] = set()
    for some in groups.values():
        ordered = _newest_first(entries, some)
        kept = ordered[:1]
        if deletes(entries[ordered[0]]):
            kept = [*kept, *(one for one in ordered if not deletes(entries[one]))][:2]
        found.update(set(some) - set(kept))
    return frozenset(found)


def deletes(entry: Mapping[str, Json]) -> bool:
    """Whether an entry says that a resource was deleted."""
    request = entry.get("request")
    return isinstance(request, dict) and request.get("method") == "DELETE"


def says_something(entry: Mapping[str, Json]) -> bool:
    """Whether an entry of a history holds a version, or says that there was one.

    The notification of a subscription is a history too, and may hold nothing but its own state (a Parameters).
    """
    held = entry.get("resource")
    return deletes(entry) or (isinstance(held, dict) and held.get("resourceType") not in ("Parameters", None))


def _name(entry: Mapping[str, Json]) -> str:
    """Return type and id of what an entry is a version of; "" where it says neither."""
    held = entry.get("resource")
    if isinstance(held, dict) and isinstance(held.get("id"), str):
        return f"{held.get('resourceType')}/{held['id']}"
    request = entry.get("request")
    url = address(str(request.get("url", ""))) if isinstance(request, dict) else ""
    return "/".join(url.rsplit("/", 2)[-2:]) if "/" in url else ""


def _newest_first(entries: Sequence[Resource], some: list[int]) -> list[int]:
    times = {one: _time(entries[one]) for one in some}
    return some if None in times.values() else sorted(some, key=lambda one: times[one], reverse=True)


def _time(entry: Mapping[str, Json]) -> Json:
    """Return when a version was made: as the response says, else the resource itself."""
    response, held = entry.get("response"), entry.get("resource")
    said = response.get("lastModified") if isinstance(response, dict) else None
    meta = held.get("meta") if isinstance(held, dict) else None
    return point(said) or point(meta.get("lastUpdated") if isinstance(meta, dict) else None)


def failed(entries: Sequence[Resource]) -> int:
    """Return how many entries of a server's answer say that what was asked failed (R4, Bundle.entry.response.status).

    Examples
    --------
    >>> failed([{"response": {"status": "200 OK"}}, {"response": {"status": "404"}}, {}])
    1
    """
    answers = [one.get("response") for one in entries]
    said = [str(one.get("status", "")) for one in answers if isinstance(one, dict)]
    return sum(one[:1] in ("4", "5") for one in said)
