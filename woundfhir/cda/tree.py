"""A CDA document as a tree: where each value stands, what is mere form, and which parts are kept whole."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from functools import partial

from lxml import etree

from woundfhir.errors import InputError
from woundfhir.limits import XML_DEPTH
from woundfhir.r4 import safexml
from woundfhir.r4.origin import NO_PLACE, Fate, Leaf, Position, Source, reason

Element = etree._Element
V3 = "{urn:hl7-org:v3}"
SDTC = "{urn:hl7-org:sdtc}"
XSI_TYPE = "{http://www.w3.org/2001/XMLSchema-instance}type"

#: Attributes and elements that say how a document is built, and nothing of a client (CDA R2).
_FORM = frozenset(
    (
        *("classCode", "moodCode", "typeCode", "determinerCode", "contextControlCode", "contextConductionInd"),
        *("inversionInd", "ID", "mediaType", "representation", "codeSystemName", "codeSystemVersion", "styleCode"),
        *("valueSet", "valueSetVersion", "schemaLocation", "type", "institutionSpecified", "operator"),
    )
)
_FORM_ELEMENTS = frozenset((f"{V3}templateId", f"{V3}typeId", f"{V3}realmCode"))
_NARRATIVE = Fate("kept", "narrative: kept as it came")
_BUILT = Fate("bookkeeping", "the form of a CDA document")
_NARRATIVE_FORM = Fate("bookkeeping", "the form of the narrative")
_CLINICAL = frozenset((f"{V3}entry", f"{V3}component"))


class Tree:
    """A parsed document.

    Parameters
    ----------
    content
        UTF-8 bytes.
    source
        Takes every leaf, and the parts that may be kept.

    Raises
    ------
    InputError
        For XML that is broken, hostile, or no CDA document.
    """

    def __init__(self, content: bytes, source: Source) -> None:
        self.source = source
        self.root = safexml.parse(content)
        if self.root.tag != f"{V3}ClinicalDocument":
            raise InputError("XML", "a CDA document (ClinicalDocument of urn:hl7-org:v3)", "Look at its first element")
        self.at: dict[Element, Position] = {}
        self.anchors: dict[str, Element] = {}
        self._walk(self.root, ("/ClinicalDocument",), NO_PLACE, 1)
        for one in self.root:
            if one.tag != f"{V3}component" or one.find(f"{V3}structuredBody") is None:
                self._unit(one, False)
        for one in self.root.iter(f"{V3}section"):
            self._unit(one, True)
        for one in self.root.iter(f"{V3}entry"):
            self._unit(one, False)

    def _unit(self, element: Element, without: bool) -> None:
        self.source.units[self.at[element]] = partial(_text, element, without)

    def _walk(self, element: Element, path: Position, fate: Fate, depth: int) -> None:
        if depth > XML_DEPTH:
            raise InputError("".join(path[:4]) + "...", f"at most {XML_DEPTH} levels of elements", "Look for a fault")
        self.at[element] = path
        if element.tag == f"{V3}text" and element.getparent().tag == f"{V3}section":  # type: ignore[union-attr]
            fate = _NARRATIVE
        built = element.tag in _FORM_ELEMENTS or fate is _BUILT
        leaves = self.source.leaves
        for name in element.attrib:
            plain = etree.QName(str(name)).localname
            form = plain in _FORM or built
            leaves[*path, f"/@{plain}"] = _BUILT if form else _NARRATIVE_FORM if fate is _NARRATIVE else fate
            if plain == "ID":
                self.anchors.setdefault(str(element.get(name)), element)
        for position, _ in texts_of(element, path):
            leaves[position] = _BUILT if built else fate
        seen: dict[object, int] = {}
        counts: dict[object, int] = {}
        for child in element:
            counts[child.tag] = counts.get(child.tag, 0) + 1
        for child in element:
            seen[child.tag] = seen.get(child.tag, 0) + 1
            other = "" if str(child.tag).startswith(V3) else f"{child.prefix or 'other'}:"
            name = other + etree.QName(child).localname
            step = f"/{name}[{seen[child.tag]}]" if counts[child.tag] > 1 else f"/{name}"
            self._walk(child, (*path, step), _BUILT if built else fate, depth + 1)

    # -- what stands in an element -------------------------------------------------------------

    def attribute(self, element: Element | None, name: str) -> Leaf | None:
        """Return an attribute without blanks around it; None for an empty one."""
        if element is None:
            return None
        found = (element.get(name) or "").strip()
        return Leaf(found, ((*self.at[element], f"/@{name}"),)) if found else None

    def text(self, element: Element | None) -> Leaf | None:
        """Return all text in an element, its blanks joined."""
        if element is None:
            return None
        found = [one for inner in element.iter() for one in texts_of(inner, self.at[inner])]
        words = " ".join(" ".join(map(str, element.itertext())).split())
        return Leaf(words, tuple(position for position, _ in found)) if words else None

    def null(self, element: Element) -> str:
        """Return the nullFlavor of an element, or ""."""
        return (element.get("nullFlavor") or "").strip()

    def aside(self, element: Element, kind: str, why: str) -> None:
        """Say why nothing is made of an element and all in it."""
        self.source.aside(self.at[element], kind, reason(kind, why))


def texts_of(element: Element, path: Position) -> Iterator[tuple[Position, str]]:
    """Yield the position and the words of each piece of text that stands in an element itself."""
    pieces = [element.text, *(child.tail for child in element)]
    full = [piece for piece in pieces if piece and piece.strip()]
    for number, piece in enumerate(full, 1):
        yield (*path, f"/text()[{number}]" if len(full) > 1 else "/text()"), piece


def kid(element: Element | None, *names: str) -> Element | None:
    """Return the first element of a chain of names, or None."""
    for name in names:
        if element is None:
            return None
        element = element.find(name if name.startswith("{") else V3 + name)
    return element


def kids(element: Element | None, name: str) -> list[Element]:
    """Return the children of one name."""
    return [] if element is None else element.findall(name if name.startswith("{") else V3 + name)


def key_of(one: Element) -> str:
    """Return an id (II) as one text."""
    return f"{one.get('root')}|{one.get('extension') or ''}"


def templates(element: Element) -> set[str]:
    """Return the template ids of an element without the common root of C-CDA's entries."""
    return {
        (one.get("root") or "").strip().removeprefix("2.16.840.1.113883.10.20.22.4.")
        for one in kids(element, "templateId")
    }


def _text(element: Element, without: bool) -> str:
    """An element as XML; a section without its entries, that stand on their own."""
    if without:
        element = deepcopy(element)
        for child in list(element):
            if child.tag in _CLINICAL:
                element.remove(child)
    return etree.tostring(element, encoding="unicode", with_tail=False)
