"""What a resource of ours says of itself: a profile of ours, or us as its source."""

from __future__ import annotations

from typing import Any

from woundfhir.catalogue import BASE
from woundfhir.fhir.terms import terms

Resource = dict[str, Any]


def without_claim(resource: Resource) -> Resource:
    """Return a resource that names us as its source (Meta.source) instead of claiming a profile of ours.

    What a sender claimed is the sender's and stays.
    """
    meta = resource.get("meta")
    if not isinstance(meta, dict) or not isinstance(meta.get("profile"), list):
        return resource
    others = [one for one in meta["profile"] if not str(one).startswith(terms().bases)]
    if len(others) == len(meta["profile"]):
        return resource
    kept = {"source": BASE, **meta, "profile": others}
    return {**resource, "meta": {key: value for key, value in kept.items() if value != []}}
