"""The dialects by name, and how what is written in one is known again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, get_args

from woundfhir.fhir.elements import objects
from woundfhir.fhir.tags import DIALECT

Name = Literal["us-core", "ca-baseline", "skin-wound", "components"]
NAMES: tuple[Name, ...] = get_args(Name)
#: How the last part of the place of a resource begins that a dialect writes beside ours.
SHOWN = "shown-"
#: The system of the tag (Meta.tag) that says in which dialect a resource is written.
TAG = DIALECT


def dialect_of(resource: Mapping[str, Any]) -> str | None:
    """Return the dialect in which a resource of ours says that it is written.

    Examples
    --------
    >>> dialect_of({"meta": {"tag": [{"system": TAG, "code": "us-core"}]}}), dialect_of({})
    ('us-core', None)
    """
    meta = resource.get("meta")
    for tag in objects(meta, "tag") if isinstance(meta, dict) else ():
        if tag.get("system") == TAG and tag.get("code") in NAMES:
            return str(tag["code"])
    return None
