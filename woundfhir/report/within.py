"""Where in one FHIR resource an answer stands: the element's name and index, as the end of a simple FHIRPath."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms, code_keys, has_code

Json = Any
Resource = Mapping[str, Json]
#: (resource, number of the item asked for) -> ``.value``, or None where the resource does not hold it.
Finder = Callable[[Resource, int | None], str | None]
#: Choice elements: the JSON name carries the type, the FHIRPath name does not.
_CHOICE = ("value", "onset", "abatement", "scheduled", "item")


def named(element: str) -> Finder:
    """Return a finder of an element by its name; of a list the item asked for, else the first.

    Examples
    --------
    >>> named("bodySite")({"bodySite": [{}]}, None), named("onset")({"onsetDateTime": "2026"}, None)
    ('.bodySite[0]', '.onset')
    """

    def find(resource: Resource, number: int | None) -> str | None:
        if not element or not has(resource, element):
            return None
        if isinstance(resource.get(element), list):
            size = len(resource[element])
            return f".{element}[{number if number is not None and number < size else 0}]" if size else None
        return f".{element}"

    return find


def has(resource: Resource, element: str) -> bool:
    """Whether an element is there; ``value`` stands for ``valueQuantity`` and the like."""
    if element in resource:
        return True
    return element in _CHOICE and any(
        key.startswith(element) and key[len(element) : len(element) + 1].isupper() for key in resource
    )


def answered(terms: Terms, term: Term, field: Term | None) -> Finder:
    """Return a finder of the element that holds an answer to a concept, or to a field of it."""
    wanted = field or term
    native = wanted.concept.native or ""

    def find(resource: Resource, number: int | None) -> str | None:
        kind = resource.get("resourceType")
        if (found := _extension(resource, wanted.url)) is not None:
            return found
        if kind == "Observation":
            return _observed(term, field, resource)
        if kind == "Procedure" and field is not None:
            return named({"used": "usedCode", "code": "code"}.get(native, ""))(resource, None)
        if kind == "CarePlan":
            return _planned(terms, wanted, resource)
        if kind == "Goal":
            return named("description")(resource, None)
        if kind == "SupplyDelivery" and "suppliedItem" in resource:
            inner = named(native if native in ("item", "quantity") else "")(resource["suppliedItem"], None)
            return None if inner is None else f".suppliedItem{inner}"
        return None

    return find


def _extension(resource: Resource, url: str) -> str | None:
    for index, one in enumerate(resource.get("extension", ())):
        if one.get("url") == url:
            return f".extension[{index}]{'.value' if has(one, 'value') else ''}"
    return None


def _observed(term: Term, field: Term | None, resource: Resource) -> str | None:
    """A component by its code; the value, for what is the Observation's own answer."""
    wanted = field or term
    inside = field is not None or bool(term.concept.parent or term.concept.within)
    codes = wanted.concept.keys
    for index, part in enumerate(resource.get("component", ()) if inside else ()):
        keys = code_keys(part.get("code"))
        # Fields may share a code; the first that only one field has says which field it is, as in reading.
        named_field = next((term.by_code[key] for key in keys if key in term.by_code), None)
        if (named_field is field) if field is not None else codes & set(keys):
            return f".component[{index}]{'.value' if has(part, 'value') else ''}"
    alone = not inside or field is term.main or bool(codes & set(code_keys(resource.get("code"))))
    return ".value" if alone and has(resource, "value") else None


def _planned(terms: Terms, term: Term, resource: Resource) -> str | None:
    """The part of the planned activity that an answer of the plan says."""
    name = term.concept.activity
    if name is None:
        return None
    for index, activity in enumerate(resource.get("activity", ())):
        detail = activity.get("detail", {})
        if has_code(detail.get("code"), terms.code_key(name)):
            part = {"repeat": "scheduled", "event": "scheduled", "performer": "performer"}.get(
                term.concept.native or "", "description"
            )
            inner = named(part)(detail, None)
            return None if inner is None else f".activity[{index}].detail{inner}"
    return None
