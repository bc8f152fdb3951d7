"""The elements of FHIR XML and the members of JSON objects, guided by what R4 defines.

Each pair of functions (`_write_x`, `_read_x`) stands together. What R4 does not define is never dropped: it is
refused with its path, or, where the caller hands in a list, put there word for word.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from lxml import etree

from woundfhir.errors import InputError
from woundfhir.limits import XML_DEPTH
from woundfhir.r4 import jsonio
from woundfhir.r4.definitions import Element, elements, order, resource_types
from woundfhir.r4.narrative import xhtml
from woundfhir.r4.safexml import FHIR, XHTML, attributes
from woundfhir.r4.xmlvalues import CHECK, put_text, text_of, value_of

Json = Any

#: For editors; says nothing of the resource.
_SCHEMA_LOCATION = "{http://www.w3.org/2001/XMLSchema-instance}schemaLocation"


@dataclass(frozen=True, slots=True)
class Unknown:
    """Something that R4 does not define: where it stood, and the words of it (XML or JSON) as they came."""

    path: str
    text: str
    #: Whether it is a resource, of a type that R4 does not have.
    resource: bool = False


@dataclass(slots=True)
class Walk:
    """What one run of writing or reading carries along."""

    unknown: list[Unknown] | None
    narratives: list[bytes] = field(default_factory=list)
    written: Mapping[etree._Element, str] = field(default_factory=dict)

    def odd(self, path: str, text: str, expected: str = "an element of FHIR R4", resource: bool = False) -> None:
        if self.unknown is None:
            raise InputError(path, expected, CHECK)
        self.unknown.append(Unknown(path, text, resource))


# -- a resource ------------------------------------------------------------------------------------


def write_resource(walk: Walk, value: Json, parent: etree._Element | None, path: str, depth: int) -> etree._Element:
    kind = value.get("resourceType") if isinstance(value, Mapping) else None
    if not isinstance(kind, str) or kind not in resource_types():
        raise InputError(f"{path}.resourceType".lstrip("."), "a resource type of FHIR R4", CHECK)
    tag = f"{{{FHIR}}}{kind}"
    nsmap: Any = {None: FHIR}
    node = etree.Element(tag, nsmap=nsmap) if parent is None else etree.SubElement(parent, tag)
    _write_members(walk, value, kind, node, path or kind, depth + 1, resource=True)
    return node


def read_resource(walk: Walk, node: etree._Element, path: str, depth: int) -> dict[str, Json]:
    name = etree.QName(node)
    if name.localname not in resource_types():
        raise InputError(path or "XML", "a resource type of FHIR R4", CHECK)
    if name.namespace != FHIR:
        fix = f'Write xmlns="{FHIR}" on the outermost element'
        raise InputError(path or "XML", f"a resource in the namespace {FHIR}", fix)
    found = _read_members(walk, node, name.localname, path or name.localname, depth + 1)
    return {"resourceType": name.localname, **found}


# -- the members of a type -------------------------------------------------------------------------


def _write_members(
    walk: Walk, value: Json, kind: str, node: etree._Element, path: str, depth: int, resource: bool = False
) -> None:
    if not isinstance(value, Mapping):
        raise InputError(path, "an object with members", CHECK)
    _refuse_deep(path, depth)
    known, places = elements(kind), order(kind)
    for key in sorted(value, key=lambda k: places.get(k, -1)):
        name = key.removeprefix("_")
        spec = known.get(name)
        if spec is None or (name != key and not spec.parted):
            if not (resource and key == "resourceType"):
                walk.odd(f"{path}.{key}", jsonio.encode(value[key]).decode())
        elif spec.attribute:
            put_text(node, name, text_of(value[key], spec, f"{path}.{name}"), f"{path}.{name}")
        elif spec.parted:
            if key == name or name not in value:
                _write_primitives(walk, value.get(name), value.get("_" + name), spec, node, f"{path}.{name}", depth)
        else:
            for place, item in _items(value[key], spec, f"{path}.{name}"):
                _write_complex(walk, item, spec, node, place, depth)


def _read_members(
    walk: Walk, node: etree._Element, kind: str, path: str, depth: int, also: str = ""
) -> dict[str, Json]:
    """Read attributes and children; ``also`` is an attribute that the caller reads."""
    _refuse_deep(path, depth)
    known = elements(kind)
    found: dict[str, Json] = {}
    children: dict[str, list[etree._Element]] = {}
    for name, text in attributes(node):
        if name in known and known[name].attribute:
            found[name] = text
        elif name not in (also, _SCHEMA_LOCATION):
            walk.odd(f"{path}.@{etree.QName(name).localname}", f"{name}={text}", "no such attribute in FHIR R4")
    tags = _tags(kind)
    _refuse_text(walk, node.text, path)
    for child in node:
        name = tags.get(str(child.tag), "")
        if name:
            children.setdefault(name, []).append(child)
        else:
            walk.odd(f"{path}.{etree.QName(child).localname}", _words(child))
        _refuse_text(walk, child.tail, path)
    for name, nodes in children.items():
        spec = known[name]
        for extra in () if spec.many else nodes[1:]:
            walk.odd(f"{path}.{name}", _words(extra), "this element once")
        places = [f"{path}.{name}[{n}]" for n in range(len(nodes))] if spec.many else [f"{path}.{name}"]
        if spec.parted:
            found.update(_read_primitives(walk, nodes, spec, places, depth))
            continue
        items = [
            _read_complex(walk, one, spec, at, depth)
            for one, at in zip(nodes, places, strict=False)
            if spec.type != "Resource" or not _set_aside(walk, one, at)
        ]
        if items:
            found[name] = items if spec.many else items[0]
    places_ = order(kind)
    return dict(sorted(found.items(), key=lambda item: places_[item[0]]))


def _set_aside(walk: Walk, node: etree._Element, path: str) -> bool:
    """Whether a resource inside another has a type that R4 does not define; then it is put with what else has none."""
    inside = node[0] if len(node) == 1 else None
    if inside is None or walk.unknown is None or etree.QName(inside).localname in resource_types():
        return False
    walk.odd(path, _words(inside), resource=True)
    return True


@cache
def _tags(kind: str) -> Mapping[str, str]:
    """Return the names of a type's elements by their tags."""
    return {
        f"{{{XHTML if spec.type == 'xhtml' else FHIR}}}{name}": name
        for name, spec in elements(kind).items()
        if not spec.attribute
    }


def _refuse_text(walk: Walk, text: str | None, path: str) -> None:
    if text and text.strip(" \t\r\n"):  # what XML calls white space
        walk.odd(path, text, "no text between elements (FHIR writes a value as the attribute value)")


def _refuse_deep(path: str, depth: int) -> None:
    if depth > XML_DEPTH:
        raise InputError(path, f"at most {XML_DEPTH} levels", "Take out the elements inside each other")


def _words(node: etree._Element) -> str:
    return etree.tostring(node, encoding="unicode", with_tail=False)


def _items(value: Json, spec: Element, path: str) -> Iterator[tuple[str, Json]]:
    """Yield path and item, one or several as the element demands."""
    if spec.many != isinstance(value, list):
        raise InputError(path, "a list" if spec.many else "one, not a list", CHECK)
    if not spec.many:
        yield path, value
    elif not value:
        raise InputError(path, "at least one in the list", "Leave the element out")
    else:
        yield from ((f"{path}[{n}]", item) for n, item in enumerate(value))


# -- one element that is no primitive --------------------------------------------------------------


def _write_complex(walk: Walk, item: Json, spec: Element, node: etree._Element, path: str, depth: int) -> None:
    if spec.type == "xhtml":
        if not isinstance(item, str):
            raise InputError(path, "a text that is one XHTML div", CHECK)
        node.append(etree.ProcessingInstruction("narrative", str(len(walk.narratives))))  # put in by ``encode``
        walk.narratives.append(xhtml.to_xml(item, path))
        return
    child = etree.SubElement(node, f"{{{FHIR}}}{spec.name}")
    if spec.type == "Resource":
        write_resource(walk, item, child, path, depth + 1)
    else:
        _write_members(walk, item, spec.type, child, path, depth + 1)


def _read_complex(walk: Walk, node: etree._Element, spec: Element, path: str, depth: int) -> Json:
    if spec.type == "xhtml":
        return xhtml.from_xml(node, walk.written.get(node))
    if spec.type != "Resource":
        return _read_members(walk, node, spec.type, path, depth + 1)
    if len(node) != 1 or node.attrib or (node.text or "").strip() or (node[0].tail or "").strip():
        raise InputError(path, "one resource in this element, and nothing else", CHECK)
    return read_resource(walk, node[0], path, depth + 1)


# -- one primitive, or a list of them --------------------------------------------------------------


def _write_primitives(
    walk: Walk, values: Json, besides: Json, spec: Element, node: etree._Element, path: str, depth: int
) -> None:
    """Write what JSON parts into ``x`` (values) and ``_x`` (ids and extensions), item by item."""
    if besides is None and not spec.many and values is not None and not isinstance(values, list):  # nearly all
        put_text(etree.SubElement(node, f"{{{FHIR}}}{spec.name}"), "value", text_of(values, spec, path), path)
        return
    given = [list(_items(part, spec, path)) for part in (values, besides) if part is not None]
    for n in range(max((len(part) for part in given), default=1)):
        place = f"{path}[{n}]" if spec.many else path
        value = _at(values, n) if spec.many else values
        beside = _at(besides, n) if spec.many else besides
        if value is None and beside is None:
            raise InputError(place, "a value or an extension", "Leave the element out")
        child = etree.SubElement(node, f"{{{FHIR}}}{spec.name}")
        if beside is not None:
            _write_members(walk, beside, "Element", child, place, depth + 1)
        if value is not None:
            put_text(child, "value", text_of(value, spec, place), place)


def _at(values: Json, n: int) -> Json:
    return values[n] if values is not None and n < len(values) else None


def _read_primitives(
    walk: Walk, nodes: list[etree._Element], spec: Element, places: list[str], depth: int
) -> dict[str, Json]:
    values: list[Json] = []
    besides: list[Json] = []
    for node, place in zip(nodes, places, strict=False):
        text = node.get("value")
        plain = text is not None and len(node) == 0 and node.text is None and len(node.attrib) == 1
        beside = {} if plain else _read_members(walk, node, "Element", place, depth + 1, also="value")
        if text is None and not beside:
            walk.odd(place, _words(node), "a value or an extension")
            continue
        values.append(None if text is None else value_of(text, spec, place))
        besides.append(beside or None)
    found: dict[str, Json] = {}
    for key, items in ((spec.name, values), ("_" + spec.name, besides)):
        if any(item is not None for item in items):
            found[key] = items if spec.many else items[0]
    return found
