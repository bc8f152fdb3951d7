"""Literal references and addresses of resources: read, cut to what names the resource, and renamed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import unquote

from woundfhir.fhir.elements import objects
from woundfhir.r4.literals import references

Json = Any
_HTTP = ("http://", "https://")
_RELATIVE = re.compile(r"[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}")


def is_relative(literal: str) -> bool:
    """Whether a literal reference is type and id alone, a version aside, or a urn: a name within its own surroundings.

    Examples
    --------
    >>> is_relative("Condition/w/_history/2"), is_relative("http://one.example.org/Condition/w"), is_relative("#w")
    (True, False, False)
    """
    plain = address(literal)
    return _RELATIVE.fullmatch(plain) is not None or plain.startswith("urn:")


def address(literal: str) -> str:
    """Return a literal reference or the address of an entry without its version and without a slash too many.

    Examples
    --------
    >>> address("https://ehr.example.org/fhir//Condition/w/_history/2"), address("Condition/w/")
    ('https://ehr.example.org/fhir/Condition/w', 'Condition/w')
    """
    plain = literal.split("/_history/", 1)[0]
    if not plain.startswith(_HTTP):
        return plain if plain.startswith("urn:") else plain.rstrip("/")
    scheme, _, rest = plain.partition("://")
    return f"{scheme}://{'/'.join(part for part in rest.split('/') if part)}"


def conditional(literal: str) -> dict[str, Any] | None:
    """Return a conditional reference by identifier as a logical one, None for what is none or asks anything else.

    Examples
    --------
    >>> conditional("Patient?identifier=http://example.org/mrn|7")
    {'type': 'Patient', 'identifier': {'system': 'http://example.org/mrn', 'value': '7'}}
    >>> conditional("Patient?name=roe"), conditional("Patient/7")
    (None, None)
    """
    kind, _, query = literal.partition("?")
    name, _, wanted = query.partition("=")
    system, bar, value = unquote(wanted).partition("|")
    if name != "identifier" or "&" in wanted or not (bar and system and value) or not kind.isalpha():
        return None
    return {"type": kind, "identifier": {"system": system, "value": value}}


def relative_to(literal: str, base: str) -> str:
    """Return a literal reference as the server at a base address names it: without that address and without a version.

    Examples
    --------
    >>> relative_to("https://ehr.example.org/fhir/Condition/w/_history/2", "https://ehr.example.org/fhir")
    'Condition/w'
    """
    return literal.removeprefix(f"{base}/").split("/_history/")[0]


def base_of(url: str) -> str:
    """Return the address of the server in the address of a resource, or "".

    Examples
    --------
    >>> base_of("https://ehr.example.org/fhir//Condition/w"), base_of("urn:uuid:1")
    ('https://ehr.example.org/fhir', '')
    """
    if not url.startswith(_HTTP):
        return ""
    plain = address(url)
    return plain.rsplit("/", 2)[0] if plain.count("/") > 3 else ""


def identifiers_of(resource: Mapping[str, Json]) -> list[Mapping[str, Json]]:
    """Return the identifiers of a resource, of which some types have one and most a list."""
    named = resource.get("identifier") or ()
    return [one for one in (named if isinstance(named, list) else [named]) if isinstance(one, Mapping)]


def links_of(bundle: Mapping[str, Json], relation: str) -> Iterator[str]:
    """Yield the addresses of a Bundle's links of one relation (``self``, ``next``).

    Examples
    --------
    >>> list(links_of({"link": [{"relation": "next", "url": "https://ehr.example.org/fhir?page=2"}]}, "next"))
    ['https://ehr.example.org/fhir?page=2']
    """
    for link in objects(bundle, "link"):
        if link.get("relation") == relation and isinstance(link.get("url"), str):
            yield link["url"]


def own_systems(resource: Mapping[str, Json]) -> Iterator[str]:
    """Yield the systems of our own identifiers, one for each client, that a resource has."""
    systems = (one.get("system") for one in identifiers_of(resource))
    return (one for one in systems if isinstance(one, str) and one.startswith("urn:uuid:"))


def rename(value: Json, names: Mapping[str, str]) -> Json:
    """Return a copy in which every literal reference is renamed."""
    if isinstance(value, dict):
        made = dict(value)
        for key, item in value.items():
            if isinstance(item, dict | list):
                made[key] = rename(item, names)
            elif key == "reference" and isinstance(item, str):
                made[key] = names.get(item, item)
        return made
    if isinstance(value, list):
        return [rename(item, names) for item in value]
    return value


class Renaming:
    """Renames literal references in resources that share parts: a part that stands in many is looked at once.

    Nothing that is given is changed. What holds no reference to rename is given back itself, not a copy of it; so a
    result shares its parts with what was given, and nobody may change them.

    Examples
    --------
    >>> client, value = {"reference": "Patient/p"}, {"value": 4}
    >>> made = Renaming({"Patient/p": "urn:uuid:1"})({"subject": client, "valueQuantity": value})
    >>> made["subject"], made["valueQuantity"] is value
    ({'reference': 'urn:uuid:1'}, True)
    """

    def __init__(self, names: Mapping[str, str]) -> None:
        self._names = names
        #: By its place in memory: a part, kept so that nothing else can come to that place, and what it became.
        self._seen: dict[int, tuple[Json, Json]] = {}

    def __call__(self, resource: Mapping[str, Json]) -> dict[str, Json]:
        """Return a resource with every literal reference renamed."""
        seen = self._seen
        made = dict(resource)
        for key, item in resource.items():
            kind = item.__class__
            if kind is dict or kind is list:
                known = seen.get(id(item))
                if known is None:
                    known = seen[id(item)] = item, self._part(item)
                if known[1] is not item:
                    made[key] = known[1]
        return made

    def _part(self, part: Json) -> Json:
        changed: dict[Json, Json] = {}
        for key, item in part.items() if part.__class__ is dict else enumerate(part):
            kind = item.__class__
            if kind is dict or kind is list:
                found = self._part(item)
            elif key == "reference" and isinstance(item, str):
                found = self._names.get(item, item)
            else:
                continue
            if found is not item:
                changed[key] = found
        if not changed:
            return part
        if part.__class__ is dict:
            return {**part, **changed}
        return [changed.get(place, item) for place, item in enumerate(part)]


__all__ = [
    "Renaming",
    "address",
    "base_of",
    "conditional",
    "identifiers_of",
    "is_relative",
    "references",
    "relative_to",
    "rename",
]
