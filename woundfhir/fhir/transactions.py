"""A history as a transaction (HL7 FHIR R4, http, transaction): what a server is to store, however often it is sent.

Each entry names the resource by its business key, so that sending twice stores once and an amendment arrives: what is
ours is a conditional update (``PUT Type?identifier=...``); a client, an organisation and a practitioner, and what
others wrote, are conditional creates, which never write over what a server has of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Literal

from woundfhir.errors import InputError
from woundfhir.fhir.at_home import at_home
from woundfhir.fhir.bundles import EMPTY, full_url, named, tell_apart
from woundfhir.fhir.claims import without_claim
from woundfhir.fhir.convert import written
from woundfhir.fhir.dialects.names import Name as Dialect
from woundfhir.fhir.ids import NAMESPACE, uuid5
from woundfhir.fhir.keys import Key, key_of, keyed
from woundfhir.fhir.reasons import SUPERSEDED
from woundfhir.fhir.references import references, rename
from woundfhir.fhir.write_context import namespace, urn
from woundfhir.record import History
from woundfhir.record.canonical import as_json
from woundfhir.record.clients import identifiers

Json = Any
Resource = dict[str, Json]
#: ``update``: what is ours is brought up to date; ``create``: nothing that a server has is ever changed.
Policy = Literal["update", "create"]
#: What may be somebody else's although our record tells of it: created where it is missing, never written over.
CREATE_ONLY = frozenset(("Patient", "Organization", "Practitioner"))
_NO_CLIENT = "Write the identifier with its system (patient, identifiers: system and value), such as the health card's"


def to_send(history: History, dialect: Dialect | None = None) -> list[tuple[Resource, Key]]:
    """Return the resources of a history as a server keeps them, each with its business key.

    Raises
    ------
    InputError
        When nothing is known, or the client has no identifier with a system: a server could not tell two clients apart;
        and where two versions of one resource contradict each other: a server would keep two things.
    """
    resources = written(history, dialect)[0]
    if not resources:
        raise InputError("the record", *EMPTY)
    if not identifiers(history.patient):
        wrong = "a server finds a client by an identifier, and this one has none with a system"
        raise InputError("patient.identifiers", "an identifier with its system", _NO_CLIENT, found=wrong)
    sent = at_home(list(map(named, _newest(resources, history))))
    _refuse_contested(sent)
    made = []
    for resource in keyed(sent, system(history)):
        key = key_of(resource)
        assert key is not None  # keyed gives one to each
        made.append((resource, key))
    return made


def _refuse_contested(resources: Iterable[Resource]) -> None:
    """Refuse two versions of one thing, which a server would keep as two; both of two allergies are always kept."""
    seen: dict[str, Resource] = {}
    for one in resources:
        kind = one["resourceType"]
        if kind != "AllergyIntolerance" and seen.setdefault(name_of(one), one) != one:
            fix = "Ask the sender which of them holds, and read that one alone; nothing was written"
            wrong = f"two versions of one {kind} contradict each other, and neither is newer"
            raise InputError("the record", "one version of each resource for a server", fix, found=wrong)


def _newest(resources: Iterable[Resource], history: History) -> list[Resource]:
    """Leave out earlier versions that another server kept of a resource: stored beside the last, they were facts."""
    earlier = {item.get("value") for item in history.extra if item.get("why") == SUPERSEDED.words}
    return [one for one in resources if as_json(one) not in earlier] if earlier else list(resources)


def system(history: History) -> str:
    """Return the system of the identifiers that name places in the record of this client."""
    return urn(namespace(history))


def transaction(
    history: History, at: str | None = None, *, policy: Policy = "update", dialect: Dialect | None = None
) -> Resource:
    """Return a history as a Bundle of the type ``transaction``.

    Parameters
    ----------
    history
        One client's record.
    at
        The instant that the Bundle carries, or None.
    policy
        ``update`` or ``create``.
    dialect
        As for ``to_fhir``.

    Raises
    ------
    InputError
        As ``to_send``.

    Examples
    --------
    >>> card = {"system": "urn:example:card", "value": "0417"}
    >>> record = {"woundfhir": 1, "patient": {"identifiers": [card], "allergies": [{"to": "honey"}]}}
    >>> [entry["request"] for entry in transaction(History.of(record))["entry"]]  # doctest: +ELLIPSIS
    [{'method': 'POST', 'url': 'Patient', 'ifNoneExist': 'identifier=urn:example:card|0417'}, {'method': 'PUT', ...}]
    """
    pairs = to_send(history, dialect)
    ours = system(history)
    urls = {name_of(resource): full_url(resource) for resource, _ in pairs}
    once: dict[str, Resource] = {}
    for resource, key in pairs:
        entry: Resource = {"fullUrl": full_url(resource), "resource": body(rename(resource, urls))}
        way: Policy = "update" if policy == "update" and is_ours(key, ours) else "create"
        if way == "update":  # R4, http: an id in the body would have to be that of the match
            del entry["resource"]["id"]
        once[key.words] = {**entry, "request": request(key, way)}
    made: Resource = {"resourceType": "Bundle", "id": "", "type": "transaction"}
    if at is not None:
        made["timestamp"] = at
    made["entry"] = list(once.values())
    tell_apart(made["entry"])
    made["id"] = uuid5(NAMESPACE.bytes, as_json(made))
    return made


def name_of(resource: Resource) -> str:
    """Return the literal reference to a resource."""
    return f"{resource['resourceType']}/{resource['id']}"


def is_ours(key: Key, system: str) -> bool:
    """Whether what a key names may be written over: a place in our record, and of no kind that others may have."""
    return key.type not in CREATE_ONLY and key.system == system


def body(resource: Resource) -> Resource:
    """Return what is sent of a resource: no profile of ours, and no version, which is the server's."""
    made = without_claim(resource)
    meta = {name: value for name, value in (made.get("meta") or {}).items() if name not in ("versionId", "lastUpdated")}
    return {name: value for name, value in {**made, "meta": meta}.items() if value != {}}


def request(key: Key, way: Policy, match: str | None = None) -> dict[str, str]:
    """Return the request of one entry (R4, Bundle.entry.request).

    Examples
    --------
    >>> request(Key("Binary", "", "b1"), "create")
    {'method': 'PUT', 'url': 'Binary/b1'}
    """
    if not key.system:  # no identifier, no condition: under its own id, once
        made = {"method": "PUT", "url": f"{key.type}/{key.value}"}
    elif way == "update":
        made = {"method": "PUT", "url": f"{key.type}?{key.query}"}
    else:
        made = {"method": "POST", "url": key.type, "ifNoneExist": key.query}
    if match is not None:
        made["ifMatch"] = f'W/"{match}"'
    return made


# -- parts -----------------------------------------------------------------------------------------


def parts(made: Resource, size: int) -> list[Resource]:
    """Return a transaction as several, to be sent in this order; see ``chunks``.

    Examples
    --------
    >>> card = {"system": "urn:example:card", "value": "0417"}
    >>> record = {"woundfhir": 1, "patient": {"identifiers": [card], "allergies": [{"to": "honey"}]}}
    >>> [len(one["entry"]) for one in parts(transaction(History.of(record)), 1)]
    [2]
    """
    some = [{**made, "id": "", "entry": part} for part in chunks(made["entry"], size)]
    return [{**one, "id": uuid5(NAMESPACE.bytes, as_json(one))} for one in some]


def chunks(entries: Sequence[Resource], size: int) -> list[list[Resource]]:
    """Part the entries of a transaction, so that none is sent before what it refers to.

    What hangs on the client alone comes first, then visit after visit; a visit is never parted, so that a part can
    have more entries than ``size``. A reference to an earlier part becomes conditional (``Type?identifier=...``, R4,
    http, conditional references), as the fullUrl of an entry is a name within its Bundle only.

    Examples
    --------
    >>> request = {"method": "PUT", "url": "Basic?identifier=a|1"}
    >>> one = {"fullUrl": "urn:uuid:1", "resource": {"resourceType": "Basic"}, "request": request}
    >>> visit = {"resourceType": "Encounter", "basedOn": [{"reference": "urn:uuid:1"}]}
    >>> other = {**one, "fullUrl": "urn:uuid:2", "resource": visit}
    >>> chunks([other, one], 1)[1][0]["resource"]["basedOn"]
    [{'reference': 'Basic?identifier=a|1'}]
    """
    numbers = _units(entries)
    units: dict[int, list[Resource]] = {}
    for entry, number in zip(entries, numbers, strict=True):
        units.setdefault(number, []).append(entry)
    made: list[list[Resource]] = []
    for _, unit in sorted(units.items()):
        if made and len(made[-1]) + len(unit) <= size:
            made[-1].extend(unit)
        else:
            made.append(list(unit))
    return list(_resolved(made))


def _units(entries: Sequence[Resource]) -> list[int]:
    """Number the visit of each entry, 0 for what belongs to none; nothing stands before what it refers to."""
    visits = [entry["fullUrl"] for entry in entries if entry["resource"].get("resourceType") == "Encounter"]
    order = {url: number for number, url in enumerate(visits, 1)}
    places = {}
    for entry in entries:
        named = set(references(entry["resource"]))
        mine = order.get(entry["fullUrl"])
        places[entry["fullUrl"]] = (mine or max((order.get(url, 0) for url in named), default=0), named)
    numbers = {url: number for url, (number, _) in places.items()}
    changed = True
    while changed:  # each round moves something later, and nothing later than the last visit
        changed = False
        for url, (_, named) in places.items():
            latest = max((numbers.get(other, 0) for other in named), default=0)
            if latest > numbers[url]:
                numbers[url], changed = latest, True
    return [numbers[entry["fullUrl"]] for entry in entries]


def _resolved(parts: list[list[Resource]]) -> Iterator[list[Resource]]:
    earlier: dict[str, str] = {}
    for part in parts:
        yield [{**entry, "resource": rename(entry["resource"], earlier)} for entry in part] if earlier else part
        for entry in part:
            sent = entry["request"]
            known = f"{sent['url']}?{sent['ifNoneExist']}" if "ifNoneExist" in sent else sent["url"]
            earlier[entry["fullUrl"]] = known
