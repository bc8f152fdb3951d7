"""Whether a server can keep a record."""

from __future__ import annotations

from woundfhir.fhir import to_fhir
from woundfhir.record import History
from woundfhir.record.clients import identifiers


def for_server(history: History) -> bool:
    """Whether a server can keep a record: it finds the client by a number, and has one version of each resource."""
    out = [one for one in to_fhir(history) if one["resourceType"] != "AllergyIntolerance"]
    seen = {(one["resourceType"], one.get("id", number)) for number, one in enumerate(out)}
    return bool(identifiers(history.patient)) and len(seen) == len(out)
