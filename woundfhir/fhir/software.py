"""How a Provenance of ours names the software that assembled a document: it says nothing of the record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.catalogue import BASE
from woundfhir.fhir.elements import objects
from woundfhir.fhir.references import identifiers_of

Json = Any
#: The system of the identifiers of software: the value is name and version.
SYSTEM = f"{BASE}/software"


def is_of_software(resource: Mapping[str, Json]) -> bool:
    """Whether a resource is a Provenance that says which software assembled a document.

    Examples
    --------
    >>> device = {"resourceType": "Device", "identifier": [{"system": SYSTEM, "value": "x-1"}]}
    >>> is_of_software({"resourceType": "Provenance", "contained": [device]}), is_of_software({})
    (True, False)
    """
    if resource.get("resourceType") != "Provenance":
        return False
    return any(
        one.get("resourceType") == "Device" and any(it.get("system") == SYSTEM for it in identifiers_of(one))
        for one in objects(resource, "contained")
    )
