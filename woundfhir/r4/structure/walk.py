"""One walk over a resource along what R4 defines: what is well-formed is yielded, the rest becomes an issue."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any, NamedTuple

from woundfhir.limits import XML_DEPTH
from woundfhir.r4.definitions import Element, elements, pattern, primitive, resource_types
from woundfhir.r4.structure.issue import Issues, kind_of
from woundfhir.r4.times import DATES, is_real

Json = Any
_BASE64 = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/= \r\n\t")
_NAME = re.compile(r"_?[A-Za-z][A-Za-z0-9_]{0,63}")  # what a message may say about an unknown key
_WORDS = {"string": "a text", "boolean": "true or false", "integer": "a whole number", "number": "a number"}


@dataclass(frozen=True, slots=True)
class Node:
    """One element of a resource."""

    path: str
    #: Type by R4's name: ``Quantity``, ``Observation.component``, ``code``; a resource by its resource type.
    type: str
    #: The object, or the value of a primitive (None where only its extensions are said).
    value: Json
    #: How it is defined where it stands; None for the resource at the top.
    element: Element | None
    #: The resource that the element belongs to, and the one that contains that (itself, if it is not contained).
    resource: Mapping[str, Json]
    root: Mapping[str, Json]

    @property
    def is_inner(self) -> bool:
        """Whether this is a whole resource that stands on its own inside another, as in a Bundle's entry."""
        return self.element is not None and self.element.type == "Resource" and self.value is self.root


class _Here(NamedTuple):
    """Where the walk is."""

    path: str
    resource: Mapping[str, Json]
    root: Mapping[str, Json]
    depth: int

    def at(self, path: str) -> _Here:
        return _Here(path, self.resource, self.root, self.depth + 1)

    def node(self, kind: str, value: Json, element: Element | None) -> Node:
        return Node(self.path, kind, value, element, self.resource, self.root)


def walk(resource: Json, issues: Issues, path: str = "") -> Iterator[Node]:
    """Yield every element of a resource, outermost first, in the order that R4 gives.

    A resource that stands on its own inside it (a Bundle's entry) is yielded and not walked; a contained one is.

    Parameters
    ----------
    resource
        A resource as plain dicts.
    issues
        Takes what does not fit R4: it is not walked further.
    path
        Where the resource stands; its own type if empty.
    """
    yield from _resource(resource, issues, path, None, None)


def _resource(value: Json, issues: Issues, path: str, element: Element | None, outer: _Here | None) -> Iterator[Node]:
    """Walk a resource; ``outer`` is the place that contains it."""
    if not isinstance(value, Mapping):
        issues.add("structure", path or "resource", "a resource: an object with members", kind_of(value), "R4 JSON")
        return
    kind = value.get("resourceType")
    where = f"{path}.resourceType".lstrip(".")
    if kind is None:
        issues.add("required", where, "the name of a resource type", "nothing", "R4 JSON")
    elif not isinstance(kind, str) or kind not in resource_types():
        issues.add("structure", where, "a resource type of R4", "another word", "R4 JSON", value=kind)
    else:
        here = _Here(path or kind, value, outer.root if outer else value, outer.depth + 1 if outer else 0)
        yield here.node(kind, value, element)
        yield from _members(value, kind, issues, here)


def _members(value: Mapping[str, Json], kind: str, issues: Issues, here: _Here) -> Iterator[Node]:
    if here.depth > XML_DEPTH:
        issues.add("structure", here.path, f"at most {XML_DEPTH} levels", "more", "A limit of this toolkit")
        return
    known = elements(kind)
    _refuse_unknown(value, known, issues, here.path, value is here.resource)
    _refuse_missing(value, kind, issues, here.path)
    _refuse_two_of_a_choice(value, known, issues, here.path)
    said = {str(key).removeprefix("_") for key in value}  # most of what R4 knows is not said
    for name, element in known.items():
        if name not in said:
            continue
        if element.parted:
            yield from _parted(value, element, issues, here.at(f"{here.path}.{name}"))
        elif name in value:
            for path, item in _items(value[name], element, issues, f"{here.path}.{name}"):
                yield from _item(item, element, issues, here.at(path))


def _item(item: Json, element: Element, issues: Issues, here: _Here) -> Iterator[Node]:
    if element.name == "contained":
        yield from _resource(item, issues, here.path, element, here)
    elif element.type == "Resource":
        yield Node(here.path, "Resource", item, element, item, item)
    elif element.attribute or element.type == "xhtml":
        if isinstance(item, str) and item:
            yield here.node(element.type, item, element)
        else:
            issues.add("structure", here.path, "a text", kind_of(item), f"{element.name} is a text")
    elif not isinstance(item, Mapping):
        issues.add("structure", here.path, f"an object ({element.type})", kind_of(item), f"{element.name} has members")
    else:
        yield here.node(element.type, item, element)
        yield from _members(item, element.type, issues, here)


def _parted(value: Mapping[str, Json], element: Element, issues: Issues, here: _Here) -> Iterator[Node]:
    """Walk a primitive, or a list of them: its values stand in ``x``, its ids and extensions in ``_x``."""
    found: list[dict[str, Json]] = []
    for key in (element.name, "_" + element.name):
        found.append(dict(_items(value[key], element, issues, here.path)) if key in value else {})
    for path in found[0] | found[1]:
        item, beside = found[0].get(path), found[1].get(path)
        if item is None and beside is None:
            issues.add("ele-1", path, "a value or an extension", "nothing", "An element says something, or is left out")
        elif item is None or _fits(item, element, issues, path):
            yield here.at(path).node(element.type, item, element)
            if isinstance(beside, Mapping):
                yield from _members(beside, "Element", issues, here.at(path))
            elif beside is not None:
                issues.add(
                    "structure", path, "an object with id or extensions", kind_of(beside), "R4 JSON: _x beside x"
                )


def _items(value: Json, element: Element, issues: Issues, path: str) -> Iterator[tuple[str, Json]]:
    """Yield path and item for one element, or for each of a list."""
    if element.many != isinstance(value, list):
        expected = "a list" if element.many else "one, not a list"
        issues.add(
            "structure", path, expected, kind_of(value), f"{element.name} is {'0..*' if element.many else '0..1'}"
        )
    elif not element.many:
        yield path, value
    elif not value:
        issues.add("ele-1", path, "at least one", "an empty list", "R4 JSON: a list is never empty")
    else:
        yield from ((f"{path}[{n}]", item) for n, item in enumerate(value))


# -- what does not fit -----------------------------------------------------------------------------


def _refuse_unknown(
    value: Mapping[str, Json], known: Mapping[str, Element], issues: Issues, path: str, resource: bool
) -> None:
    for key in value:
        element = known.get(str(key).removeprefix("_"))
        fits = element is not None and (not str(key).startswith("_") or element.parted)
        if not fits and not (resource and key == "resourceType"):
            name = key if _NAME.fullmatch(str(key)) else "?"
            issues.undefined(f"{path}.{name}")


@cache
def _required(kind: str) -> Mapping[str, tuple[str, ...]]:
    """What R4 demands of a type, and the members by one of which it is said."""
    found: dict[str, tuple[str, ...]] = {}
    for name, element in elements(kind).items():
        if element.required:
            label = element.choice or name
            found[label] = (*found.get(label, ()), name, f"_{name}")
    return found


def _refuse_missing(value: Mapping[str, Json], kind: str, issues: Issues, path: str) -> None:
    for label, names in _required(kind).items():
        if all(value.get(name) is None for name in names):
            issues.add("required", f"{path}.{label}", "this element", "nothing", f"{kind}.{label} is at least 1")


def _refuse_two_of_a_choice(value: Mapping[str, Json], known: Mapping[str, Element], issues: Issues, path: str) -> None:
    said: dict[str, set[str]] = {}
    for key in value:
        element = known.get(str(key).removeprefix("_"))
        if element is not None and element.choice:
            said.setdefault(element.choice, set()).add(element.name)
    for choice, names in said.items():
        if len(names) > 1:
            issues.add(
                "structure", f"{path}.{choice}", "one of the choice", " and ".join(sorted(names)), f"{choice} is 0..1"
            )


def _fits(item: Json, element: Element, issues: Issues, path: str) -> bool:
    """Whether a primitive has the JSON kind and the form of its type."""
    kind = primitive(element.type)
    right = {
        "string": isinstance(item, str),
        "boolean": isinstance(item, bool),
        "integer": isinstance(item, int) and not isinstance(item, bool),
        "number": isinstance(item, int | Decimal | float) and not isinstance(item, bool),
    }[kind or "string"]
    if not right:
        expected = f"{_WORDS[kind or 'string']} ({element.type})"
        issues.add("structure", path, expected, kind_of(item), "R4 JSON", value=item)
    elif not _formed(item, element.type):
        why = f"The form that R4 gives to {element.type}"
        issues.add("value", path, f"the form of a {element.type}", f"{kind_of(item)} of another form", why, value=item)
    elif element.type in DATES and not is_real(item):
        issues.add("value", path, "a day that exists", "a day that the calendar does not have", "R4 dates", value=item)
    else:
        return True
    return False


def _formed(item: Json, kind: str) -> bool:
    if kind == "base64Binary":  # R4's expression takes exponential time on some texts
        letters = len(item) - sum(map(item.count, " \r\n\t"))
        return letters > 0 and letters % 4 == 0 and _BASE64.issuperset(item)
    form = pattern(kind)
    if kind in ("boolean", "decimal") or form is None:
        return not isinstance(item, Decimal) or item.is_finite()
    if isinstance(item, int) and not -(2**31) <= item < 2**31:
        return False
    return form.fullmatch(str(item)) is not None
