"""A second look through the models of fhir.resources (R4B), on a copy: dates that do not exist, and the like.

The walk knows R4's elements, lists and cardinalities from HL7's own definitions; of what the models say only what it
cannot see is taken, since R4B differs from R4 in some types. No word of pydantic's messages is passed on: they hold
the offending value.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import deepcopy
from functools import cache
from typing import Any

from woundfhir.r4.structure.issue import Issues, kind_of

Json = Any
#: What the walk tells, from R4 itself.
_TOLD = frozenset(
    ("missing", "extra_forbidden", "list_type", "model_field_validation.missing", "model_validation_format")
)

#: Types of which R4's own expression says all.
SURE = frozenset(("code", "id", "markdown", "oid", "string", "uri", "url", "uuid", "canonical", "base64Binary"))


@cache
def _model(kind: str) -> Any:
    """Return the model of a resource type; None for the few types of R4 that R4B does not have."""
    from fhir.resources.R4B import get_fhir_model_class

    try:
        return get_fhir_model_class(kind)
    except (KeyError, ValueError):
        return None


def check(resource: Mapping[str, Json], path: str, told: set[str], sure: set[str], issues: Issues) -> None:
    """Add an issue for each thing that the model of a resource refuses and nothing else has told.

    Parameters
    ----------
    resource
        A resource whose type is known; the resources in a Bundle's entries are left to their own turn.
    path
        Where it stands.
    told
        Paths of the issues that are told already.
    sure
        Paths of the texts that have the form of their type by R4's own expression; the models take a hard blank for
        white space, R4 does not.
    """
    model = _model(resource["resourceType"])
    if model is None:
        return
    from pydantic import ValidationError

    try:
        model.model_validate(_copy(resource))
    except ValidationError as error:
        for kind, where in _errors(error, resource["resourceType"]):
            place = path + where
            if kind not in _TOLD and place not in sure and not any(_related(place, other) for other in told):
                found = kind_of(_value(resource, where))
                why = f"The model of {resource['resourceType']} in fhir.resources refuses it"
                issues.add("value", place, "a value that its type has", found, why, value=_value(resource, where))
    except RecursionError:
        why = "The models of fhir.resources do not go so deep"
        issues.add("structure", path, "fewer levels", "too many to check all", why, severity="information")
    except (KeyError, TypeError, ValueError, AttributeError):
        if not any(_related(path, other) for other in told):
            issues.add(
                "structure", path, "a resource that can be read", "one that cannot", "fhir.resources breaks on it"
            )


def _copy(resource: Mapping[str, Json]) -> dict[str, Json]:
    """Return a deep copy without the resources inside a Bundle."""
    if resource["resourceType"] != "Bundle":
        return deepcopy(dict(resource))
    made = {key: value for key, value in resource.items() if key != "entry"}
    entries = resource.get("entry")
    if isinstance(entries, list):
        made["entry"] = [
            {key: value for key, value in entry.items() if key != "resource"} if isinstance(entry, Mapping) else entry
            for entry in entries
        ]
    return deepcopy(made)


def _errors(error: Any, kind: str) -> Iterator[tuple[str, str]]:
    """Yield type and path (below the resource) of each error."""
    for item in error.errors(include_url=False, include_context=False, include_input=False):
        where = ""
        for part in item["loc"]:
            if isinstance(part, int):
                where += f"[{part}]"
            elif part != "root":
                where += f".{part.removeprefix('_')}"
        yield item["type"], where


def _related(one: str, other: str) -> bool:
    """Whether one path is the other or lies below it."""
    return one.startswith(other) or other.startswith(one)


def _value(resource: Json, where: str) -> Json:
    """Return what stands at a path below a resource."""
    found = resource
    for part in where.replace("[", ".[").split(".")[1:]:
        try:
            found = found[int(part[1:-1])] if part.startswith("[") else found[part]
        except (KeyError, IndexError, TypeError):
            return None
    return found
