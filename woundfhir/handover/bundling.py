"""Bundles: the document that travels, the transaction that a server stores, the plain collection."""

from __future__ import annotations

from typing import Any, Literal
from urllib.parse import quote

from woundfhir.chart import open_record
from woundfhir.errors import InputError
from woundfhir.fhir import build
from woundfhir.fhir.convert import written
from woundfhir.fhir.ids import NAMESPACE, uuid5
from woundfhir.fhir.read_context import rename
from woundfhir.fhir.terms import terms
from woundfhir.fhir.write_context import WriteContext
from woundfhir.handover.computed import computed
from woundfhir.handover.document.build import composition
from woundfhir.record import History
from woundfhir.record.canonical import as_json

Json = Any
Kind = Literal["document", "transaction", "collection"]
KINDS: tuple[Kind, ...] = ("document", "transaction", "collection")


def bundle(history: History, kind: Kind = "document", *, at: str | None = None, **options: Json) -> dict[str, Json]:
    """Return a history as one FHIR Bundle.

    Parameters
    ----------
    history
        One client's record; see ``gather`` for a part of it.
    kind
        ``document`` (a Composition first, HL7 FHIR R4, documents), ``transaction`` (conditional creates, so
        that sending twice stores once) or ``collection``.
    at
        The time that the Bundle carries, a whole instant. Without it the newest time in the record is used,
        so that the same history gives the same bytes.
    **options
        Passed on to the Composition.

    Returns
    -------
    dict
        The Bundle, as plain dicts.

    Raises
    ------
    InputError
        For an unknown kind, and for a document of a record in which no whole time is written.
    """
    if kind not in KINDS:
        raise InputError("--as", f"one of {', '.join(KINDS)}", "Choose one of them")
    compiled = terms()
    resources, names = written(history)
    resources = [_named(resource) for resource in resources]
    out = build(history)[1] if kind == "document" else WriteContext(history, compiled)
    time = at or open_record(history).newest_instant
    if kind == "document":
        if time is None:
            raise InputError(
                "the record",
                "at least one visit with date, clock time and offset",
                "Write the visit's 'at', or give --at",
            )
        resources = [*resources, *(rename(one, names) if names else one for one in computed(history, out))]
        head = composition(history, resources, out, time, **options)
        resources = [rename(head, names) if names else head, *_reachable(resources)]
    urls = {f"{r['resourceType']}/{r['id']}": full_url(r) for r in resources if "id" in r}
    entries = [_entry(resource, urls, kind) for resource in resources]
    made: dict[str, Json] = {"resourceType": "Bundle", "id": "", "meta": compiled.meta(f"bundle-{kind}")}
    if kind != "transaction":
        made["identifier"] = {"system": "urn:ietf:rfc:3986", "value": ""}
    made["type"] = kind
    if time is not None:
        made["timestamp"] = time
    made["entry"] = entries
    name = uuid5(NAMESPACE.bytes, as_json(made))
    made["id"] = name
    if "identifier" in made:
        made["identifier"]["value"] = f"urn:uuid:{name}"
    return made


def _named(resource: dict[str, Json]) -> dict[str, Json]:
    """Give what came without an id one that follows from what it says: in a Bundle everything is named."""
    if "id" in resource:
        return resource
    return {"resourceType": resource.get("resourceType"), "id": uuid5(NAMESPACE.bytes, as_json(resource)), **resource}


def _reachable(resources: list[dict[str, Json]]) -> list[dict[str, Json]]:
    """Leave out the people that nothing points at: a document holds only what can be reached (R4, documents)."""
    named: set[str] = set()
    for resource in resources:
        _collect(resource, named)
    people = ("Practitioner", "PractitionerRole", "Organization")
    return [r for r in resources if r["resourceType"] not in people or f"{r['resourceType']}/{r['id']}" in named]


def _collect(value: Json, named: set[str]) -> None:
    if isinstance(value, dict):
        if isinstance(value.get("reference"), str):
            named.add(value["reference"])
        for item in value.values():
            _collect(item, named)
    elif isinstance(value, list):
        for item in value:
            _collect(item, named)


def full_url(resource: dict[str, Json]) -> str:
    """Return the urn:uuid by which a Bundle names a resource; an id that is no UUID gets one that follows from it."""
    name = resource["id"]
    if len(name) == 36 and name.count("-") == 4:
        return f"urn:uuid:{name}"
    return f"urn:uuid:{uuid5(NAMESPACE.bytes, resource['resourceType'] + '/' + name)}"


def _entry(resource: dict[str, Json], urls: dict[str, str], kind: Kind) -> dict[str, Json]:
    renamed = rename(resource, urls)
    made: dict[str, Json] = {"fullUrl": full_url(resource), "resource": renamed}
    if kind == "transaction":
        request = {"method": "POST", "url": resource["resourceType"]}
        if query := _condition(resource):
            request["ifNoneExist"] = query
        made["request"] = request
    return made


def _condition(resource: dict[str, Json]) -> str | None:
    """The query of a conditional create (R4, http): the first identifier with system and value."""
    identifiers = resource.get("identifier", ())
    for identifier in identifiers if isinstance(identifiers, list) else [identifiers]:
        if "system" in identifier and "value" in identifier:
            return f"identifier={quote(identifier['system'], safe=':/.-')}|{quote(identifier['value'], safe='/.-')}"
    return None
