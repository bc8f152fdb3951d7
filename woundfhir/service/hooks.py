"""CDS Hooks 2.0: what is offered, a call read, and the record that its prefetch holds.

Nothing is fetched from the calling server: what a hook needs comes with it (prefetch), or the call is answered 412.
A search that did not come, or came in part, is named on a card, as what seems missing may stand there.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir.elements import objects
from woundfhir.intake.inputs import Input
from woundfhir.r4 import jsonio
from woundfhir.report.cards import Indicator, cards
from woundfhir.report.judged import Judged
from woundfhir.server.fetching import TYPES, refuse_others, taken
from woundfhir.web.guard import Refused

Json = Any
PATIENT = "patient"
#: Without these there is no record to judge.
NEEDED = (PATIENT, "condition", "observation")
_PAGE = 500


@dataclass(frozen=True, slots=True)
class Service:
    """One service: its hook, words for whoever sets it up, and how it judges."""

    hook: str
    title: str
    description: str
    context: tuple[str, ...]
    gaps: Indicator
    #: A built-in checklist beside that of the site; empty: none.
    checklist: str = ""
    #: Whether gaps of the newest note alone are named; safety prompts are, whatever note they stand on.
    newest: bool = False


SERVICES = {
    one.hook: one
    for one in (
        Service(
            "patient-view",
            "Wound notes: safety prompts and gaps",
            "Asks about open safety prompts in a client's wound notes, and lists what the notes lack. It does not "
            "diagnose and does not recommend treatment.",
            ("userId", "patientId"),
            "info",
            newest=True,
        ),
        Service(
            "encounter-discharge",
            "Wound notes before a transfer",
            "Judges a client's wound notes as a hand-over before discharge: open safety prompts, and what the next "
            "team will miss. It does not diagnose and does not recommend treatment.",
            ("userId", "patientId", "encounterId"),
            "warning",
            "transfer",
        ),
    )
}


def key_of(kind: str) -> str:
    """Return the prefetch key of a resource type.

    Examples
    --------
    >>> key_of("CarePlan")
    'carePlan'
    """
    return kind[0].lower() + kind[1:]


def prefetch() -> dict[str, str]:
    """Return the templates: the client, and a search for each type that a wound record is made of."""
    searches = {key_of(kind): f"{kind}?patient={{{{context.patientId}}}}&_count={_PAGE}" for kind in TYPES}
    return {PATIENT: "Patient/{{context.patientId}}", **searches}


def discovery() -> dict[str, Json]:
    """Return what is offered."""
    templates = prefetch()
    return {
        "services": [
            {
                "hook": one.hook,
                "id": one.hook,
                "title": one.title,
                "description": one.description,
                "prefetch": templates,
                "usageRequirements": "The prefetch is needed: nothing is asked of the calling server.",
            }
            for one in SERVICES.values()
        ]
    }


@dataclass(frozen=True, slots=True)
class Call:
    """A call: which hook, its instance, the client, and what came with it."""

    hook: str
    instance: uuid.UUID
    patient: str
    server: str
    came: list[Json]
    #: Types whose search did not come, failed, or has more pages.
    partly: tuple[str, ...]


def parse(hook: str, content: bytes) -> Call:
    """Return a call.

    Raises
    ------
    InputError
        For what is no call of this hook; ``Refused`` with 412 where the prefetch lacks what is needed.
    """
    found = jsonio.decode_checked(content)
    if found.get("hook") != hook:
        raise InputError("hook", hook, "Call the service of this hook")
    try:
        instance = uuid.UUID(str(found.get("hookInstance")))
    except ValueError:
        raise InputError("hookInstance", "a UUID", "Write one that is new for each call") from None
    context, given = found.get("context"), found.get("prefetch")
    given = {} if given is None else given
    if not isinstance(context, dict) or not isinstance(given, dict):
        raise InputError("context, prefetch", "an object each", "See /cds-services")
    for key in SERVICES[hook].context:
        if not isinstance(context.get(key), str) or not context[key]:
            raise InputError(f"context.{key}", "a text", "It is required for this hook")
    server = found.get("fhirServer", "")
    if not isinstance(server, str):
        raise InputError("fhirServer", "an address", "Write the base of the FHIR server")
    came, partly = _prefetched(given)
    client = given[PATIENT]
    if client.get("resourceType") != "Patient" or client.get("id") != context["patientId"]:
        raise InputError(f"prefetch.{PATIENT}", "the client whom context.patientId names", "Send that one")
    refuse_others(came, client, server.rstrip("/"))
    return Call(hook, instance, context["patientId"], server.rstrip("/"), came, partly)


def _prefetched(given: Mapping[str, Json]) -> tuple[list[Json], tuple[str, ...]]:
    """Return the resources, and the types of which not all came."""
    resources: list[Json] = []
    partly: list[str] = []
    for kind in ("Patient", *TYPES):
        key = key_of(kind)
        whole, found = _part(key, given[key]) if key in given else (False, [])
        if key in NEEDED and not whole and not found and not _is_empty(key, given):
            fix = "Send what its template in /cds-services asks for"
            raise Refused(412, f"prefetch.{key}", "what is needed to judge", fix)
        resources += found
        if not whole:
            partly.append(kind)
    return resources, tuple(partly)


def _is_empty(key: str, given: Mapping[str, Json]) -> bool:
    """Whether a search came, and found nothing."""
    return key != PATIENT and key in given and given[key] is None


def _part(key: str, value: Json) -> tuple[bool, list[Json]]:
    """Return whether everything that a template asks for came, and the resources."""
    if value is None:  # a search without a result
        return key != PATIENT, []
    if not isinstance(value, dict) or not isinstance(value.get("resourceType"), str):
        raise InputError(f"prefetch.{key}", "a resource, a Bundle or null", "See /cds-services")
    if value["resourceType"] == "OperationOutcome":
        return False, []
    if value["resourceType"] != "Bundle":
        return True, [value]
    more = any(one.get("relation") == "next" for one in objects(value, "link"))
    return not more, list(_entries(key, value.get("entry", [])))


def _entries(key: str, entries: Json) -> Iterator[Json]:
    if not isinstance(entries, list) or not all(isinstance(one, dict) for one in entries):
        raise InputError(f"prefetch.{key}", "a Bundle of entries", "Send what the search answered")
    for one in entries:
        resource = one.get("resource")
        if not isinstance(resource, dict) or not isinstance(resource.get("resourceType"), str):
            raise InputError(f"prefetch.{key}", "a resource in each entry", "Send what the search answered")
        if resource["resourceType"] != "OperationOutcome":
            yield resource


def record_of(call: Call) -> Input | None:
    """Return the record that came with a call; None for a client without a wound."""
    unique = {f"{one['resourceType']}/{one.get('id') or number}": one for number, one in enumerate(call.came)}
    read = taken(unique.values(), call.server)
    if not read.history.wounds:
        return None
    # As a record: whoever looks at a client cannot mend the structure of what the server stores.
    return Input("the prefetch", read.history, "record", report=read.report)


def cards_of(call: Call, found: Judged) -> list[Json]:
    """Return the cards of a verdict."""
    return cards(found, call.instance, gaps_are=SERVICES[call.hook].gaps, partly=call.partly)
