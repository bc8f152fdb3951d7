"""FHIR XML <-> the same plain dicts as JSON, exact in both directions, for every R4 resource.

The table of elements (``r4.json``) is made by ``tools/build_wire_table.py`` from HL7's core package. A
document with a DOCTYPE is refused before it is parsed further: no entities, no outside files, no network.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import lru_cache
from importlib.resources import files
from typing import Any

from lxml import etree

from woundfhir.errors import InputError

Json = Any
FHIR = "http://hl7.org/fhir"
XHTML = "http://www.w3.org/1999/xhtml"
LIMIT = 200 * 1024 * 1024
_DEEPEST = 200
_NUMBERS = frozenset(("decimal",))
_WHOLE = frozenset(("integer", "positiveInt", "unsignedInt"))
_JSON_NUMBER = re.compile(r"-?(0|[1-9]\d*)(\.\d+)?([eE][+-]?\d+)?")


class Slot:
    """One element of a type: its name in JSON, its type, whether it repeats."""

    __slots__ = ("many", "name", "primitive", "type")

    def __init__(self, name: str, kind: str, many: bool, primitive: bool) -> None:
        self.name = name
        self.type = kind
        self.many = many
        self.primitive = primitive


class _Table:
    """The R4 elements, compiled type by type when first needed."""

    def __init__(self) -> None:
        raw = json.loads((files("woundfhir.fhir.wire") / "r4.json").read_text("utf-8"))
        self.primitives = frozenset(raw["primitives"])
        self.resources = frozenset(raw["resources"])
        self.raw: dict[str, list[list[str]]] = raw["types"]
        self._slots: dict[str, dict[str, Slot]] = {}

    def slots(self, kind: str) -> dict[str, Slot]:
        """Return the elements of a type in their order, choices by their full names."""
        if kind not in self._slots:
            found = {}
            for name, most, *types in self.raw[kind.removeprefix("#")]:
                for one in types:
                    full = name.replace("[x]", one[:1].upper() + one[1:])
                    found[full] = Slot(full, one, most == "*", one in self.primitives and one != "xhtml")
            self._slots[kind] = found
        return self._slots[kind]


@lru_cache(maxsize=1)
def _table() -> _Table:
    return _Table()


def _attribute(kind: str, name: str, resource: bool) -> bool:
    """Whether FHIR writes an element as an XML attribute: ids of elements and URLs of extensions."""
    return (name == "id" and not resource) or (name == "url" and kind == "Extension")


# -- writing ---------------------------------------------------------------------------------------


def encode(resource: Mapping[str, Json]) -> bytes:
    """Return a resource as XML (UTF-8, indented by two spaces, a line end at the end).

    Raises
    ------
    InputError
        For a resource type or element that R4 does not have, and for characters that XML cannot carry.

    Examples
    --------
    >>> encode({"resourceType": "Patient", "birthDate": "1948-03"}).decode().splitlines()[-2]
    '  <birthDate value="1948-03"/>'
    """
    try:
        root = _write_resource(resource, None)
    except ValueError:
        raise InputError("XML", "text without control characters", "Take them out of the text") from None
    _indent(root, 0)
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + etree.tostring(root, encoding="UTF-8", xml_declaration=False) + b"\n"


def _indent(node: etree._Element, level: int) -> None:
    """Put line ends between elements; the narrative stays as it is."""
    children = list(node)
    if not children or node.tag == f"{{{XHTML}}}div":
        return
    node.text = "\n" + "  " * (level + 1)
    for child in children:
        _indent(child, level + 1)
        child.tail = "\n" + "  " * (level + 1)
    children[-1].tail = "\n" + "  " * level


def _write_resource(resource: Mapping[str, Json], parent: etree._Element | None) -> etree._Element:
    kind = resource.get("resourceType")
    if kind not in _table().resources:
        raise InputError("resourceType", "a resource type of FHIR R4", "Check the spelling and the FHIR version")
    name = f"{{{FHIR}}}{kind}"
    node = etree.Element(name, nsmap={None: FHIR}) if parent is None else etree.SubElement(parent, name)
    _write_members(resource, str(kind), node, str(kind), resource=True)
    return node


def _write_members(value: Mapping[str, Json], kind: str, node: etree._Element, path: str, resource: bool = False) -> None:
    slots = _table().slots(kind)
    for key in value:
        if key.removeprefix("_") not in slots and not (resource and key == "resourceType"):
            raise InputError(f"{path}.{key}", "an element of FHIR R4", "Check the spelling and the FHIR version")
    for name, slot in slots.items():
        beside = value.get("_" + name)
        if name not in value and beside is None:
            continue
        if _attribute(kind, name, resource):
            node.set(name, value[name])
            continue
        items, besides = value.get(name), beside
        if not slot.many:
            items, besides = [items], [besides]
        items, besides = list(items or ()), list(besides or ())
        for index in range(max(len(items), len(besides))):
            item = items[index] if index < len(items) else None
            _write_one(slot, item, besides[index] if index < len(besides) else None, node, f"{path}.{name}")


def _write_one(slot: Slot, item: Json, beside: Json, node: etree._Element, path: str) -> None:
    if slot.type == "xhtml":
        if item is not None:
            node.append(_parse(item.encode(), path))
    elif slot.type == "Resource":
        _write_resource(item, etree.SubElement(node, f"{{{FHIR}}}{slot.name}"))
    elif slot.primitive:
        child = etree.SubElement(node, f"{{{FHIR}}}{slot.name}")
        if item is not None:
            child.set("value", _primitive_text(item, path))
        if beside is not None:
            _write_members(beside, "Element", child, path)
    else:
        if not isinstance(item, Mapping):
            raise InputError(path, "an element with members", "Check the structure there")
        _write_members(item, slot.type, etree.SubElement(node, f"{{{FHIR}}}{slot.name}"), path)


def _primitive_text(item: Json, path: str) -> str:
    if isinstance(item, bool):
        return "true" if item else "false"
    if isinstance(item, (str, int)):
        return str(item)
    if isinstance(item, Decimal):
        return str(item)
    raise InputError(path, "one plain value", "Check the structure there")


# -- reading ---------------------------------------------------------------------------------------


def decode(content: bytes, limit: int = LIMIT) -> dict[str, Json]:
    """Return the resource of an XML document.

    Raises
    ------
    InputError
        Oversize or broken XML (with the line), a DOCTYPE, an element that R4 does not have (with its path).

    Examples
    --------
    >>> decode(b'<Patient xmlns="http://hl7.org/fhir"><birthDate value="1948-03"/></Patient>')
    {'resourceType': 'Patient', 'birthDate': '1948-03'}
    """
    if len(content) > limit:
        raise InputError("XML", f"at most {limit // 1024 // 1024} MB", "Split the input")
    return _read_resource(_parse(content, "XML"))


def _parse(content: bytes, path: str) -> etree._Element:
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, dtd_validation=False, huge_tree=False,
        remove_comments=True, remove_pis=True, recover=False,
    )
    try:
        root = etree.fromstring(content, parser)
    except etree.XMLSyntaxError as error:
        raise InputError(f"{path}, line {error.lineno}", "well-formed XML", "Look for an open tag or a bad character there") from None
    except ValueError:
        raise InputError(path, "well-formed XML", "Check the encoding") from None
    if root.getroottree().docinfo.doctype or root.getroottree().docinfo.internalDTD is not None:
        raise InputError(path, "XML without a DOCTYPE", "Take the DOCTYPE out: entities are never read")
    return root


def _read_resource(node: etree._Element, depth: int = 0) -> dict[str, Json]:
    name = etree.QName(node)
    if name.namespace != FHIR or name.localname not in _table().resources:
        raise InputError("XML", "a resource of FHIR R4 in the namespace http://hl7.org/fhir", "Check the outermost element")
    out: dict[str, Json] = {"resourceType": name.localname}
    _read_members(node, name.localname, out, name.localname, depth, resource=True)
    return out


def _read_members(node: etree._Element, kind: str, out: dict[str, Json], path: str, depth: int, resource: bool = False) -> None:
    if depth > _DEEPEST:
        raise InputError(path, f"at most {_DEEPEST} levels", "Take out the nesting")
    slots = _table().slots(kind)
    for name, text in node.attrib.items():
        if name in slots and _attribute(kind, str(name), resource):
            out[str(name)] = str(text)
        elif name != "value":
            raise InputError(f"{path}/@{name}", "an attribute of FHIR R4", "Remove it")
    if (node.text and node.text.strip()) or any(child.tail and child.tail.strip() for child in node):
        raise InputError(path, "elements without text between them", "FHIR writes values as attributes")
    for slot, children in _grouped(node, slots, path):
        _read_slot(slot, children, out, f"{path}.{slot.name}", depth)


def _grouped(node: etree._Element, slots: Mapping[str, Slot], path: str) -> Iterator[tuple[Slot, list[etree._Element]]]:
    found: dict[str, list[etree._Element]] = {}
    for child in node:
        name = etree.QName(child)
        known = name.localname in slots and name.namespace == (XHTML if slots[name.localname].type == "xhtml" else FHIR)
        if not known:
            raise InputError(f"{path}.{name.localname} (line {child.sourceline})", "an element of FHIR R4", "Check the FHIR version")
        found.setdefault(name.localname, []).append(child)
    for name, children in found.items():
        if len(children) > 1 and not slots[name].many:
            raise InputError(f"{path}.{name} (line {children[1].sourceline})", "this element once", "Remove one")
        yield slots[name], children


def _read_slot(slot: Slot, children: list[etree._Element], out: dict[str, Json], path: str, depth: int) -> None:
    if slot.primitive:
        pairs = [_read_primitive(child, slot, path, depth) for child in children]
        values, besides = [value for value, _ in pairs], [beside for _, beside in pairs]
        if slot.many:
            if any(value is not None for value in values):
                out[slot.name] = values
            if any(beside is not None for beside in besides):
                out["_" + slot.name] = besides
        else:
            if values[0] is not None:
                out[slot.name] = values[0]
            if besides[0] is not None:
                out["_" + slot.name] = besides[0]
        return
    made = [_read_complex(child, slot, path, depth) for child in children]
    out[slot.name] = made if slot.many else made[0]


def _read_complex(child: etree._Element, slot: Slot, path: str, depth: int) -> Json:
    if slot.type == "xhtml":
        child.tail = None
        return etree.tostring(child, encoding="unicode")
    if slot.type == "Resource":
        if len(child) != 1:
            raise InputError(path, "one resource", "Put one resource there")
        return _read_resource(child[0], depth + 1)
    made: dict[str, Json] = {}
    _read_members(child, slot.type, made, path, depth + 1)
    return made


def _read_primitive(child: etree._Element, slot: Slot, path: str, depth: int) -> tuple[Json, Json]:
    beside: dict[str, Json] = {}
    _read_members(child, "Element", beside, path, depth + 1)
    text = child.get("value")
    if text is None:
        return None, beside or None
    if slot.type == "boolean":
        if text not in ("true", "false"):
            raise InputError(path, "true or false", "Correct the value there")
        return text == "true", beside or None
    if slot.type in _NUMBERS or slot.type in _WHOLE:
        if not _JSON_NUMBER.fullmatch(text):
            raise InputError(path, "a number", "Correct the value there")
        return (Decimal(text) if re.search(r"[.eE]", text) else int(text)), beside or None
    return text, beside or None
