"""Do resources keep to R4 (4.0.1)? A check without Java: structure, codes, invariants, references, documents.

What is not checked here: profiles, invariants of resources that a wound record does not use, value sets that cannot be
listed (UCUM, media types, languages), terminology. The official validator does all that; see tests/conformance.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from woundfhir.r4.definitions import resource_types
from woundfhir.r4.structure import bindings, bundle, references, sense
from woundfhir.r4.structure.invariants import INVARIANTS, broken
from woundfhir.r4.structure.invariants.registry import text
from woundfhir.r4.structure.issue import Issue, Issues
from woundfhir.r4.structure.references import Place
from woundfhir.r4.structure.walk import Node, walk

Json = Any

__all__ = ["INVARIANTS", "Issue", "check_bundle", "check_resource", "check_resources"]


def check_resource(resource: Json, *, show_values: bool = False) -> list[Issue]:
    """Check one resource, and everything inside it.

    Parameters
    ----------
    resource
        Plain dicts as JSON has them; a Bundle is checked as ``check_bundle`` does. It is not changed.
    show_values
        Put the offending values into ``found``. They may be a patient's.

    Returns
    -------
    list of Issue
        In the order of the elements; empty for a resource that keeps to R4.

    Examples
    --------
    >>> observation = {"resourceType": "Observation", "status": "done", "code": {"text": "Length"}}
    >>> for issue in check_resource(observation):
    ...     print(issue.severity, issue.key, issue.path)
    warning dom-6 Observation.text
    error code-invalid Observation.status
    """
    issues = Issues(show_values)
    _check(resource, issues, "", None, None)
    return issues.items


def check_bundle(resource: Json, *, show_values: bool = False) -> list[Issue]:
    """Check a Bundle: its resources, the references between them, and R4's rules of documents.

    Parameters
    ----------
    resource
        The Bundle, as plain dicts.
    show_values
        As for ``check_resource``.

    Examples
    --------
    >>> [issue.key for issue in check_bundle({"resourceType": "Bundle", "type": "document"})]
    ['bdl-9', 'bdl-10', 'bdl-11']
    """
    issues = Issues(show_values)
    if not isinstance(resource, Mapping) or resource.get("resourceType") != "Bundle":
        issues.add("structure", "Bundle", "a Bundle", "another resource", "check_bundle takes a Bundle")
        return issues.items
    return check_resource(resource, show_values=show_values)


def check_resources(resources: Sequence[Json], *, show_values: bool = False) -> list[Issue]:
    """Check resources that belong together, and whether the references between them find their targets.

    Parameters
    ----------
    resources
        For instance the lines of an NDJSON file. The path of an issue starts with the position, from 0.
    show_values
        As for ``check_resource``.

    Examples
    --------
    >>> patient = {"resourceType": "Patient", "id": "p", "text": {"status": "empty", "div": "<div/>"}}
    >>> plan = {"resourceType": "Basic", "code": {"text": "x"}, "subject": {"reference": "Patient/q"}}
    >>> [(issue.severity, issue.path) for issue in check_resources([patient, plan]) if issue.key == "not-found"]
    [('warning', '[1].Basic.subject.reference')]
    """
    issues = Issues(show_values)
    place = Place.of_list([resource if isinstance(resource, Mapping) else {} for resource in resources])
    for position, resource in enumerate(resources):
        kind = text(resource, "resourceType")
        name = kind if kind in resource_types() else "resource"
        _check(resource, issues, f"[{position}].{name}", place, position)
    return issues.items


def _check(resource: Json, issues: Issues, path: str, place: Place | None, position: int | None) -> None:
    """Run every check over a resource and those inside it.

    ``place`` is where its references are looked up, ``position`` which of the resources there it is.
    """
    nodes = list(walk(resource, issues, path))
    for node in nodes:
        if not node.is_inner:
            _check_node(node, place, position, issues)
    if not nodes or nodes[0].value is not resource:
        return  # not a resource of R4: the walk has an issue for it
    path = nodes[0].path
    if resource["resourceType"] == "Bundle":
        place = Place.of_bundle(resource)
        bundle.check_full_urls(resource, path, issues)
        bundle.check_document(resource, place, path, issues)
        sense.check_bundle(resource, place, path, issues)
    for node in nodes:
        if node.is_inner:
            inner = place.position(node.value) if place is not None else None
            _check(node.value, issues, node.path, place, position if inner is None else inner)


def _check_node(node: Node, place: Place | None, position: int | None, issues: Issues) -> None:
    broken(node, issues)
    bindings.check(node, issues)
    sense.check(node, issues)
    if node.type == "Reference":
        references.check_target(node, place, position, issues)
        if place is not None:
            references.check_found(node, place, position, issues)
