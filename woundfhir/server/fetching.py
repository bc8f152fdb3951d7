"""One client's record from a server: found by an identifier, page after page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from typing import Any
from urllib.parse import urlencode

from woundfhir.errors import InputError
from woundfhir.fhir.references import references, relative_to
from woundfhir.intake.inputs import Input, from_resources
from woundfhir.server.answers import refused
from woundfhir.server.bookkeeping import in_record_shape
from woundfhir.server.capability import Capability, capability
from woundfhir.server.clients import find_client
from woundfhir.server.connection import Connection
from woundfhir.server.pages import resources

Json = Any
Resource = dict[str, Json]
#: What a wound record is made of: searched for type by type where a server has no ``$everything``.
TYPES = (
    *("Encounter", "Condition", "Observation", "Procedure", "CarePlan", "Goal", "SupplyDelivery", "DocumentReference"),
    *("BodyStructure", "AllergyIntolerance", "CareTeam", "Basic", "Media", "DeviceUseStatement", "ServiceRequest"),
    *("QuestionnaireResponse",),
)
#: What a resource may name that does not hang on the client: asked for one by one where it did not come.
_NAMED = frozenset(("Practitioner", "PractitionerRole", "Organization", "Location", "RelatedPerson", "BodyStructure"))
#: What a server keeps for itself.
ITS_OWN = frozenset(("AuditEvent", "Subscription", "Consent", "Account", "Coverage"))
_ROUNDS = 3
#: How many resources that did not come are asked for, to know whether they were deleted.
_ASKED = 100


def fetch(server: Connection, who: str, *, since: str | None = None, count: int = 200) -> Input:
    """Return the record of one client.

    Parameters
    ----------
    server
        Where from.
    who
        ``system|value`` of an identifier of the client.
    since
        Only what the server has changed since this instant (``_lastUpdated``); the client comes always.
    count
        Resources on one page.

    Raises
    ------
    InputError
        When nobody there, or several clients, have this identifier; when another client's resource comes; when a page
        leads in a circle or to another host.
    """
    return taken(everything(server, who, since=since, count=count), server.base)


def everything(server: Connection, who: str, *, since: str | None = None, count: int = 200) -> list[Resource]:
    """Return all that a server has of one client, as the server has it; see ``fetch``."""
    can = capability(server)
    client = find_client(server, who)
    came = [one for one in _everything(server, can, client, since, count) if one["resourceType"] not in ITS_OWN]
    came = list({f"{one['resourceType']}/{one.get('id')}": one for one in [client, *came]}.values())
    refuse_others(came, client, server.base)
    came.extend(named(server, came))
    server.say(f"{len(came)} resources came.")
    return came


def taken(came: Iterable[Resource], base: str) -> Input:
    """Return the record that the resources of one client give; ``base`` is the address of their server."""
    return from_resources(in_record_shape(came, base), base, "fhir-json")


def _everything(
    server: Connection, can: Capability, client: Resource, since: str | None, count: int
) -> Iterator[Resource]:
    name = f"Patient/{client['id']}"
    if can.everything:
        asked = {"_count": str(count), **({"_since": since} if since else {})}
        answer = server.get(f"{name}/$everything?{urlencode(asked)}")
        if answer.status not in (400, 404, 405, 501):
            yield from resources(server, answer, "the client's resources")
            return
        server.say("The server has no $everything here: asking type by type.")
    for kind in TYPES:
        by = can.of(kind).by_client
        if by is None:
            if can.of(kind).interactions:
                server.say(f"The server cannot search {kind} by client: none of them came.")
            continue
        asked = {by: name, "_count": str(count), **({"_lastUpdated": f"ge{since}"} if since else {})}
        yield from resources(server, server.search(kind, **asked), f"the search for {kind}")


def refuse_others(came: Iterable[Resource], client: Resource, base: str) -> None:
    """Refuse an answer that holds a resource of another client: nothing is joined."""
    name = f"Patient/{client['id']}"
    for one in came:
        if one["resourceType"] == "Patient" and one.get("id") != client["id"]:
            raise _another("Patient")
        if any(other != name for other in clients_of(one, base)):
            raise _another(str(one["resourceType"]))


def clients_of(resource: Resource, base: str) -> Iterator[str]:
    """Yield the clients whom a resource names as its own: their types and ids."""
    return (one for one in subjects_of(resource, base) if one.startswith("Patient/"))


def subjects_of(resource: Resource, base: str) -> Iterator[str]:
    """Yield whom a resource is about (R4: subject, patient), a client or not, as addresses at the server."""
    for key in ("subject", "patient"):
        said = resource.get(key)
        literal = said.get("reference") if isinstance(said, dict) else None
        if isinstance(literal, str):
            yield relative_to(literal, base)


def _another(kind: str) -> InputError:
    fix = "Nothing was written. Ask who keeps the server"
    return InputError("the server", "resources of one client", fix, found=f"a {kind} of another client came too")


def named(server: Connection, came: Iterable[Resource]) -> list[Resource]:
    """Return the people and houses that are named and did not come, asked for one by one."""
    here = {f"{one['resourceType']}/{one.get('id')}": one for one in came}
    new = dict(here)
    more: list[Resource] = []
    for _ in range(_ROUNDS):
        wanted = sorted({name for one in new.values() for name in _literals(one, server.base)} - here.keys())
        new = {}
        for name in wanted:
            answer = server.get(name)
            if answer.status == 200:
                new[name] = answer.resource(name.split("/")[0])
            elif answer.status not in (403, 404, 410):
                raise refused(answer)
            here.setdefault(name, {})
        more.extend(new.values())
        if not new:
            break
    return more


def _literals(resource: Resource, base: str, kinds: Collection[str] = _NAMED) -> Iterator[str]:
    for literal in references(resource):
        plain = relative_to(literal, base)
        if plain.split("/")[0] in kinds and plain.count("/") == 1:
            yield plain


def deleted(server: Connection, came: Iterable[Resource]) -> list[str]:
    """Return notices of what resources that came name and the server has deleted (FHIR R4, http: 410 Gone).

    A search does not say what was deleted; what still names it does.
    """
    listed = list(came)
    here = {f"{one['resourceType']}/{one.get('id')}" for one in listed}
    wanted = sorted({name for one in listed for name in _literals(one, server.base, TYPES)} - here)
    gone = Counter(name.split("/")[0] for name in wanted[:_ASKED] if server.get(name).status == 410)
    return [f"Deleted there, and named by what came: {kind} ({number})" for kind, number in sorted(gone.items())]
