"""Resources of one client as a Bundle: each under a name of its own, the same resources in the same bytes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from copy import deepcopy
from typing import Any

from woundfhir.catalogue import BASE
from woundfhir.collector import resting
from woundfhir.errors import InputError
from woundfhir.fhir.claims import without_claim
from woundfhir.fhir.convert import written
from woundfhir.fhir.dialects.names import Name as Dialect
from woundfhir.fhir.ids import NAMESPACE, id_by_content, uuid5, uuid5_of
from woundfhir.fhir.references import Renaming
from woundfhir.fhir.terms import terms
from woundfhir.record import History
from woundfhir.record.canonical import as_json, to_json

Json = Any
Resource = dict[str, Json]
#: So many entries are written at once: one by one costs more, and all at once as much memory as the whole file.
_AT_ONCE = 100
EMPTY = ("a client, a wound or a note to write as FHIR", "Nothing is known in it: fill it in first")


def collection(
    history: History, at: str | None = None, *, profiles: bool = True, dialect: Dialect | None = None
) -> Resource:
    """Return a history as a Bundle of the type ``collection``.

    Parameters
    ----------
    history
        One client's record.
    at
        The instant that the Bundle carries; the newest one of the record where it is left out.
    profiles
        Whether the resources claim our profiles; see ``bundled``.
    dialect
        As for ``to_fhir``.

    Examples
    --------
    >>> made = collection(History.of({"woundfhir": 1, "patient": {"born": "1948-03"}}))
    >>> made["type"], [entry["resource"]["resourceType"] for entry in made["entry"]]
    ('collection', ['Patient'])
    """
    resources = written(history, dialect).resources
    ours = profiles and dialect is None
    return bundled(resources, "collection", at or history.newest_instant, profiles=ours)


@resting()
def bundled(
    resources: Iterable[Resource],
    kind: str,
    at: str | None,
    *,
    profiles: bool = True,
    claims: str | None = None,
    linked: bool = False,
) -> Resource:
    """Return resources as a Bundle: references between them lead to its entries, its id follows from its content.

    It shares parts with the resources, and they with each other, so that nobody may change them: ``jsonio.copied``
    gives a copy.

    Parameters
    ----------
    resources
        In the order of the entries; one without an id gets one.
    kind
        ``document`` or ``collection``.
    at
        The instant that the Bundle carries, or None.
    profiles
        Whether the Bundle and its resources claim our profiles; else they name us as their source: a receiver that
        does not know us need not.
    claims
        A profile of others that the Bundle follows, instead of ours.
    linked
        Whether references are those of a Bundle already (``WriteContext.linked``).

    Raises
    ------
    InputError
        Where there is nothing to write.
    """
    listed = [named(resource) for resource in resources]
    if not listed:  # an empty Bundle is refused by whoever reads it, ourselves among them
        raise InputError("the record", *EMPTY)
    made: Resource = {"resourceType": "Bundle", "id": ""}
    if claims:
        made["meta"] = {"source": BASE, "profile": [claims]}
    else:
        made["meta"] = deepcopy(terms().meta(f"bundle-{kind}")) if profiles else {"source": BASE}
    made["identifier"] = {"system": "urn:ietf:rfc:3986", "value": ""}
    made["type"] = kind
    if at is not None:
        made["timestamp"] = at
    urls = [full_url(resource) for resource in listed]
    if not linked:
        rename = Renaming({f"{r['resourceType']}/{r['id']}": url for r, url in zip(listed, urls, strict=True)})
        listed = list(map(rename, listed))
    if not profiles:
        listed = list(map(without_claim, listed))
    made["entry"] = [{"fullUrl": url, "resource": one} for url, one in zip(urls, listed, strict=True)]
    tell_apart(made["entry"])
    made["id"] = name = uuid5_of(NAMESPACE.bytes, _text(made))
    made["identifier"]["value"] = f"urn:uuid:{name}"
    return made


def tell_apart(entries: list[Resource]) -> None:
    """Give an earlier version of a resource a fullUrl of its own, unless its versionId tells the two apart (bdl-7).

    A reference leads to the one that is read as the fact, and that keeps the address: the last of them.
    """
    if len({entry["fullUrl"] for entry in entries}) == len(entries):
        return
    seen: set[tuple[str, Json]] = set()
    for entry in reversed(entries):
        meta = entry["resource"].get("meta")
        key = (entry["fullUrl"], meta.get("versionId") if isinstance(meta, dict) else None)
        if key in seen:
            entry["fullUrl"] = f"urn:uuid:{uuid5(NAMESPACE.bytes, as_json(entry))}"
        seen.add(key)


def _text(bundle: Resource) -> Iterator[bytes | memoryview]:
    """Yield a Bundle in compact JSON, some entries at a time: they come last in it, and there are some."""
    entries = bundle["entry"]
    yield to_json({**bundle, "entry": []}).removesuffix(b"]}")
    for start in range(0, len(entries), _AT_ONCE):
        if start:
            yield b","
        yield memoryview(to_json(entries[start : start + _AT_ONCE]))[1:-1]
    yield b"]}"


def named(resource: Resource) -> Resource:
    """Give what came without an id one that follows from what it says: in a Bundle everything is named.

    Examples
    --------
    >>> named({"resourceType": "Patient", "id": "p"})["id"]
    'p'
    """
    if "id" in resource:
        return resource
    return {"resourceType": resource.get("resourceType"), "id": id_by_content(resource), **resource}


def full_url(resource: Resource) -> str:
    """Return the urn:uuid by which a Bundle names a resource; an id that is no UUID gets one that follows from it."""
    name = resource["id"]
    if len(name) == 36 and name.count("-") == 4:
        return f"urn:uuid:{name}"
    return f"urn:uuid:{uuid5(NAMESPACE.bytes, resource['resourceType'] + '/' + name)}"
