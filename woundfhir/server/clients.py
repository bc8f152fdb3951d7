"""The one client at a server who has an identifier."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir.references import identifiers_of
from woundfhir.server.connection import Connection
from woundfhir.server.pages import resources

Json = Any


def has_identifier(patient: Mapping[str, Json], who: str) -> bool:
    """Whether a Patient has an identifier, given as ``system|value``.

    Examples
    --------
    >>> patient = {"identifier": [{"system": "urn:example:card", "value": "0417"}]}
    >>> has_identifier(patient, "urn:example:card|0417"), has_identifier(patient, "urn:example:card|417")
    (True, False)
    """
    system, _, value = who.partition("|")
    return any((one.get("system"), one.get("value")) == (system, value) for one in identifiers_of(patient))


def find_client(server: Connection, who: str) -> dict[str, Json]:
    """Find the one client who has an identifier."""
    system, mark, value = who.partition("|")
    if not (system and mark and value):
        raise InputError("--patient", "system|value of an identifier", "Write both, such as urn:example:card|0417")
    found = list(resources(server, server.search("Patient", identifier=who), "the search for the client"))
    some = [one for one in found if one.get("resourceType") == "Patient"]
    if len(some) != 1:
        wrong = (
            f"{len(some) or 'no'} client{'s' if len(some) > 1 else ''} there {'have' if len(some) > 1 else 'has'} it"
        )
        fix = "Check it, or ask who keeps the server" if not some else "Ask who keeps the server to join them first"
        raise InputError("--patient", "an identifier of one client", fix, found=wrong)
    if not has_identifier(some[0], who):
        fix = "Ask who keeps the server: it does not search by identifier"
        raise InputError("the server", "the client who has this identifier", fix, found="it answered with another one")
    return some[0]
