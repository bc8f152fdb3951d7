"""What is to be done at a server, found by looking first: what is there by each business key, and what differs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any, Literal

from woundfhir.errors import InputError
from woundfhir.fhir.keys import Key, list_of
from woundfhir.fhir.list_items import same_item
from woundfhir.fhir.references import identifiers_of, relative_to, rename
from woundfhir.fhir.transactions import CREATE_ONLY, body, is_ours, name_of
from woundfhir.record.canonical import as_json
from woundfhir.server.capability import Capability
from woundfhir.server.connection import Connection
from woundfhir.server.pages import resources
from woundfhir.server.receipt import Receipt

Json = Any
Resource = dict[str, Json]
#: ``update``: what is ours is brought up to date; ``create``: nothing is changed; ``refuse``: what differs is refused.
Policy = Literal["update", "create", "refuse"]
Action = Literal["create", "update", "withdraw", "unchanged", "left", "refused"]
#: Those that change something at the server.
CHANGES = ("create", "update", "withdraw")
#: Identifiers in one search: an address or a form of a few kilobytes.
_AT_ONCE = 40
#: What is the server's, and what it may write in another way.
_SERVERS = ("id", "meta", "text")


@dataclass(slots=True)
class Step:
    """One resource of the record, and what is to be done with it.

    Attributes
    ----------
    key, resource
        Its business key; the resource as we write it, its references under our ids.
    action
        create, update, withdraw; unchanged; left (it is there and not ours to change); refused.
    place, version
        The server's resource (``Observation/7``) and version, where it is there.
    why
        Of what is left or refused, in words.
    """

    key: Key
    resource: Resource
    action: Action = "create"
    place: str | None = None
    version: str | None = None
    why: str = ""

    @property
    def ours(self) -> str:
        """The reference under which our resources name it."""
        return name_of(self.resource)


@dataclass
class Plan:
    """All steps; ``names`` are our references and the server's for the same resource."""

    steps: list[Step]
    names: dict[str, str] = field(default_factory=dict)

    def to_send(self) -> list[Step]:
        """Return the steps that change the server."""
        return [step for step in self.steps if step.action in CHANGES]


def plan(
    server: Connection,
    can: Capability,
    pairs: Sequence[tuple[Resource, Key]],
    system: str,
    receipt: Receipt,
    policy: Policy = "update",
    names: Mapping[str, str] | None = None,
) -> Plan:
    """Look what a server has, and return what is to be done; ``names`` are references known already.

    Raises
    ------
    InputError
        When several clients there have the client's identifier.
    """
    there = found(server, can, pairs, system, receipt)
    steps = [Step(key, resource) for resource, key in pairs]
    made = Plan(steps, dict(names or {}))
    for step in steps:
        matches = there.get(step.key.words, [])
        if len(matches) > 1:
            if step.key.type == "Patient":
                wrong = "several clients there have this identifier"
                raise InputError("the server", "one client", "Ask who keeps the server to join them first", found=wrong)
            step.action, step.why = "refused", f"{len(matches)} resources there have this key (412): one must go first"
        elif matches:
            step.place = name_of(matches[0])
            step.version = (matches[0].get("meta") or {}).get("versionId")
            made.names[step.ours] = step.place
    for step in steps:
        if step.place is not None and step.action == "create":
            _compare(step, there[step.key.words][0], made.names, server.base, system, receipt, policy)
    return made


def _compare(
    step: Step, theirs: Resource, names: Mapping[str, str], base: str, system: str, receipt: Receipt, policy: Policy
) -> None:
    known, ours = receipt.stored.get(step.key.words), rename(body(step.resource), names)
    kept = known is not None and known[1] == step.version and receipt.sent.get(step.key.words) == digest_of(ours, base)
    if kept or same(ours, theirs, base):
        step.action = "unchanged"
        return
    if step.key.type in CREATE_ONLY or not is_ours(step.key, system):
        step.action, step.why = "left", "it is there and says something else; it is not ours to change"
    elif policy == "create":
        step.action, step.why = "left", "it is there and says something else (policy create)"
    elif policy == "refuse":
        step.action, step.why = "refused", "it is there and says something else (policy refuse)"
    elif known is not None and known[1] and step.version and known[1] != step.version:
        wrong = f"somebody changed it there: version {step.version}, and the receipt knows {known[1]}"
        step.action, step.why = "refused", f"{wrong}. Look at it; without --receipt it is written over"
    else:
        step.action = "update"


def same(ours: Resource, theirs: Resource, base: str) -> bool:
    """Whether a server's resource says what ours says, whatever the server keeps of its own beside it.

    Examples
    --------
    >>> same({"subject": {"reference": "Patient/1"}}, {"id": "9", "subject": {"reference": "x/Patient/1"}}, "x")
    True
    """
    return as_json(in_one_form(ours, base)) == as_json(in_one_form(theirs, base))


def digest_of(ours: Resource, base: str) -> str:
    """Return a digest of what is sent of a resource."""
    return sha256(as_json(in_one_form(ours, base)).encode()).hexdigest()[:16]


def in_one_form(resource: Resource, base: str) -> Resource:
    """Return what a resource says, in one form: nothing of what a server keeps for itself, references relative."""
    meta = resource.get("meta") or {}
    labels = sorted(as_json({k: c.get(k) for k in ("system", "code")}) for c in meta.get("security") or ())
    kept = {key: value for key, value in resource.items() if key not in _SERVERS}
    return {"labels": labels, **dict(sorted(_plain(kept, base).items()))}


def _plain(value: Json, base: str) -> Json:
    if isinstance(value, dict):
        return {
            key: relative_to(item, base) if key == "reference" and isinstance(item, str) else _plain(item, base)
            for key, item in sorted(value.items())
        }
    return [_plain(item, base) for item in value] if isinstance(value, list) else value


# -- what is there ---------------------------------------------------------------------------------


def found(
    server: Connection, can: Capability, pairs: Sequence[tuple[Resource, Key]], system: str, receipt: Receipt
) -> dict[str, list[Resource]]:
    """Return what a server has under each key: by its identifiers, by what it has of the client, or by its id."""
    by_type: dict[str, list[tuple[Resource, Key]]] = {}
    for resource, key in pairs:
        by_type.setdefault(key.type, []).append((resource, key))
    made: dict[str, list[Resource]] = {}
    client: str | None = None
    for kind in sorted(by_type, key=lambda kind: kind != "Patient"):
        some = by_type[kind]
        keys = [key for _, key in some]
        searches = can.of(kind).searches
        if not keys[0].system or (kind != "Patient" and "identifier" not in searches and not can.of(kind).by_client):
            came = _by_id(server, some, receipt)
        elif "identifier" in searches or kind == "Patient":
            came = _by_identifier(server, kind, keys, system, client is not None)
        else:
            came = _of_client(server, can, kind, client)
        made.update(_matched(came, some, system))
        if kind == "Patient":
            client = next((one["id"] for key in keys for one in made.get(key.words, ())), None)
    return made


def _by_identifier(server: Connection, kind: str, keys: Sequence[Key], system: str, known: bool) -> list[Resource]:
    """Search by identifiers: all of ours by their system, where the server knows the client; the others one by one."""
    came: list[Resource] = []
    what = f"the search for {kind}"
    if known and any(key.system == system for key in keys):
        answer = server.search(kind, identifier=f"{system}|", _count="200")
        came.extend(resources(server, answer, what) if answer.status == 200 else ())
    rest = [key for key in keys if not (came and key.system == system)]
    for start in range(0, len(rest), _AT_ONCE):
        tokens = ",".join(key.token for key in rest[start : start + _AT_ONCE])
        came.extend(resources(server, server.search(kind, identifier=tokens, _count="200"), what))
    return came


def _of_client(server: Connection, can: Capability, kind: str, client: str | None) -> list[Resource]:
    if client is None:
        return []
    answer = server.search(kind, **{str(can.of(kind).by_client): f"Patient/{client}"}, _count="200")
    return list(resources(server, answer, f"the search for {kind}"))


def _by_id(server: Connection, some: Iterable[tuple[Resource, Key]], receipt: Receipt) -> list[Resource]:
    made = []
    for resource, key in some:
        place = receipt.stored.get(key.words, (name_of(resource), None))[0]
        answer = server.get(place)
        if answer.status == 200:
            made.append(answer.resource(f"the server's {key.type}"))
    return made


def _matched(came: Iterable[Resource], some: Sequence[tuple[Resource, Key]], system: str) -> dict[str, list[Resource]]:
    """Put what came to the keys that it has; what stood there under an older key of the same item, to its new one."""
    by_token: dict[tuple[str, str], dict[str, Resource]] = {}
    for one in came:
        for named in [*identifiers_of(one), {"system": "", "value": one.get("id")}]:
            token = str(named.get("system")), str(named.get("value"))
            by_token.setdefault(token, {})[str(one.get("id"))] = one
    made: dict[str, list[Resource]] = {}
    taken: set[str] = set()
    for _, key in some:
        if here := by_token.get((key.system, key.value)):
            made[key.words] = list(here.values())
            taken.update(here)
    # What stood there under an older key of the same item (see ``keys``) is that item still.
    for resource, key in some:
        if key.words in made or (place := list_of(resource, system)) is None:
            continue
        fits = [
            one
            for one in came
            if str(one.get("id")) not in taken and list_of(one, system) == place and same_item(resource, one)
        ]
        if fits:
            made[key.words] = fits[:1]
            taken.add(str(fits[0]["id"]))
    return made
