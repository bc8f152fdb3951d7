"""What R4 defines, as far as the wire needs it: each type's elements in order, from the table ``r4_definitions.json``.

The table is made from HL7's own definitions by ``tools/build_wire_table.py``; nothing of R4 is typed in by hand.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import msgspec

_TOKEN = re.compile(r"(?P<name>\w+)(?P<choice>\[x\])?(?P<required>!)?(?P<many>\*)?:(?P<kinds>\S+)")
_KIND = re.compile(r"(?P<type>[\w.@]+)(?:\((?P<targets>[\w,]+)\))?(?:=(?P<codes>\S+))?")


@dataclass(frozen=True, slots=True)
class Element:
    """One element of a type, as it stands in JSON: a choice ``value[x]`` is one Element for each of its types."""

    name: str
    type: str
    many: bool
    required: bool
    #: Resource types that a Reference may point at; empty: any.
    targets: tuple[str, ...]
    #: Name of the value set that is required, or "".
    codes: str
    #: ``value[x]`` where the name is one of a choice, else "".
    choice: str
    #: Written as an attribute in XML (``id`` of an element, ``url`` of an extension).
    attribute: bool
    #: A primitive that JSON parts into ``x`` (the value) and ``_x`` (its id and extensions).
    parted: bool


@cache
def _table() -> dict[str, Any]:
    content = files("woundfhir.r4").joinpath("r4_definitions.json").read_bytes()
    return msgspec.json.decode(content, type=dict[str, Any])


@cache
def elements(type_name: str) -> Mapping[str, Element]:
    """Return the elements of a type by their JSON name, in the order that XML demands.

    Parameters
    ----------
    type_name
        A data type, a resource type, or the path of a type defined inside one (``Observation.component``).

    Raises
    ------
    KeyError
        For a type that R4 does not have.

    Examples
    --------
    >>> list(elements("Period"))
    ['id', 'extension', 'start', 'end']
    >>> elements("Observation")["valueQuantity"].choice
    'value[x]'
    >>> elements("Observation.component")["code"].required
    True
    """
    base, *tokens = _table()["types"][type_name].split(" ")
    found = {} if base == "-" else dict(elements(base))
    found.update((element.name, element) for token in tokens for element in _elements_of(token))
    return found


def _elements_of(token: str) -> Iterator[Element]:
    """Read one token of the table: see tools/build_wire_table.py."""
    match = _TOKEN.fullmatch(token)
    assert match is not None, token
    for kind in match["kinds"].split("|"):
        parts = _KIND.fullmatch(kind)
        assert parts is not None, token
        attribute = parts["type"] == "@"
        yield Element(
            name=match["name"] + (parts["type"][0].upper() + parts["type"][1:] if match["choice"] else ""),
            type="string" if attribute else parts["type"],
            many=bool(match["many"]),
            required=bool(match["required"]),
            targets=tuple(parts["targets"].split(",")) if parts["targets"] else (),
            codes=parts["codes"] or "",
            choice=match["name"] + "[x]" if match["choice"] else "",
            attribute=attribute,
            parted=not attribute and parts["type"] != "xhtml" and primitive(parts["type"]) is not None,
        )


@cache
def ancestors(type_name: str) -> tuple[str, ...]:
    """Return a type and the types that it is made from, nearest first.

    Examples
    --------
    >>> ancestors("Observation")
    ('Observation', 'DomainResource', 'Resource')
    >>> ancestors("Age")
    ('Age', 'Quantity', 'Element')
    """
    base = _table()["types"][type_name].partition(" ")[0]
    return (type_name,) if base == "-" else (type_name, *ancestors(base))


@cache
def order(type_name: str) -> Mapping[str, int]:
    """Return the place of each JSON name in its type; ``_name`` stands right behind ``name``.

    Examples
    --------
    >>> order("Period")["start"] < order("Period")["_start"] < order("Period")["end"]
    True
    """
    return {key: 2 * n + k for n, name in enumerate(elements(type_name)) for k, key in enumerate((name, "_" + name))}


@cache
def resource_types() -> frozenset[str]:
    """Return the names of all resource types that can be instances.

    Examples
    --------
    >>> "Observation" in resource_types(), "DomainResource" in resource_types(), len(resource_types())
    (True, False, 146)
    """
    return frozenset(_table()["resources"])


@cache
def types() -> frozenset[str]:
    """Return the names of all types that have elements, those defined inside another among them.

    Examples
    --------
    >>> "Observation.component" in types(), "decimal" in types()
    (True, False)
    """
    return frozenset(_table()["types"])


@cache
def element_names() -> frozenset[str]:
    """Return every name that an element has in JSON, of whatever type.

    Examples
    --------
    >>> [name in element_names() for name in ("partOf", "valueQuantity", "resourceType", "patOf")]
    [True, True, True, False]
    """
    return frozenset(name for kind in _table()["types"] for name in elements(kind))


def primitive(type_name: str) -> str | None:
    """Return how JSON writes a primitive type: ``string``, ``boolean``, ``integer``, ``number``; None for others.

    Examples
    --------
    >>> primitive("decimal"), primitive("dateTime"), primitive("Quantity")
    ('number', 'string', None)
    """
    found = _table()["primitives"].get(type_name)
    return found[0] if found else None


@cache
def pattern(type_name: str) -> re.Pattern[str] | None:
    """Return the regular expression that R4 gives for a primitive type, if any.

    Examples
    --------
    >>> bool(pattern("date").fullmatch("1948-03")), bool(pattern("date").fullmatch("03/1948"))
    (True, False)
    """
    found = _table()["primitives"][type_name]
    return re.compile(found[1], re.ASCII) if len(found) > 1 else None  # a hard blank is no white space to R4


@cache
def codes(value_set: str) -> Mapping[str, frozenset[str]]:
    """Return code system -> codes of a value set with a required binding.

    Examples
    --------
    >>> "entered-in-error" in codes("observation-status")["http://hl7.org/fhir/observation-status"]
    True
    """
    return {system: frozenset(words.split(" ")) for system, words in _table()["codes"][value_set].items()}
