"""Views: resources of ours that say nothing which the rest does not say, and are never read."""

from __future__ import annotations

from woundfhir.catalogue import BASE
from woundfhir.fhir.came import Resource
from woundfhir.fhir.dialects.names import SHOWN
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.software import is_of_software

_PROFILES = frozenset(("document", "computed"))
_TYPES = ("Composition", "Observation", "Condition")
#: How the last part of the place of a computed value begins.
COMPUTED = "computed-"


def is_view(source: ReadContext, resource: Resource) -> bool:
    """Whether a resource is a Composition, a computed value or another view of ours: it says nothing of its own.

    It is known by its profile, and without one by its place; who assembled a document, by the software that is named.
    """
    if is_of_software(resource):
        return True
    kind = resource.get("resourceType")
    if kind not in _TYPES or not source.terms.is_ours(resource):
        return False
    claimed = (resource.get("meta") or {}).get("profile") or ()
    if any(str(name).startswith(BASE) and str(name).rsplit("/", 1)[-1] in _PROFILES for name in claimed):
        return True
    place = source.place(resource)
    if kind == "Composition" or place is None:
        return place is not None and place.split("/")[0] == "document"
    return place.count("/") > 1 and place.rpartition("/")[2].startswith((COMPUTED, SHOWN))


def is_computed(source: ReadContext, resource: Resource) -> bool:
    """Whether a view is a value that we computed from the record."""
    return is_view(source, resource) and SHOWN not in (source.place(resource) or "").rpartition("/")[2]
