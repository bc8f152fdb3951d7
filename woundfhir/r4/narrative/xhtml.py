"""The narrative between JSON, where it is a string, and XML, where it is an element: kept as it was written.

A ``div`` that stands on its own is carried over character by character, both ways. Only one that does not (no
namespace of its own, a prefix declared further out, entity names that XML does not know) is written anew, the same
in what it says.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import escape
from html.entities import html5
from typing import Any
from xml.parsers import expat

from lxml import etree

from woundfhir.errors import InputError
from woundfhir.r4.json_faults import HALF
from woundfhir.r4.safexml import XHTML, attributes, parse

_NAMED = re.compile(r"&([A-Za-z][A-Za-z0-9]*;)")
_OF_XML = frozenset(("lt;", "gt;", "amp;", "quot;", "apos;"))
#: Nothing before and nothing behind the element, not even a comment.
_WHOLE = re.compile(r"<(?:[\w.-]+:)?div[\s/>].*(?:</(?:[\w.-]+:)?div\s*>|/>)", re.DOTALL)
_DIV = f"{{{XHTML}}}div"


# -- JSON to XML -----------------------------------------------------------------------------------


def to_xml(div: str, path: str) -> bytes:
    """Return the bytes that stand for a narrative's ``div`` in XML.

    Parameters
    ----------
    div
        The string of JSON.
    path
        Where it stands, for the error.

    Raises
    ------
    InputError
        When it is not one well-formed ``div``.

    Examples
    --------
    >>> to_xml('<div xmlns="http://www.w3.org/1999/xhtml">a<br />b</div>', "Patient.text.div").decode()
    '<div xmlns="http://www.w3.org/1999/xhtml">a<br />b</div>'
    >>> to_xml("<div>1&nbsp;cm</div>", "Patient.text.div").decode()
    '<div xmlns="http://www.w3.org/1999/xhtml">1\\xa0cm</div>'
    """
    written = _NAMED.sub(_character, div.strip())
    try:
        content = written.encode()
    except UnicodeEncodeError:
        raise InputError(path, *HALF) from None
    root = parse(content, path)
    if root.tag not in (_DIV, "div"):
        raise InputError(path, "one XHTML div", 'Put the text into <div xmlns="http://www.w3.org/1999/xhtml">')
    return content if root.tag == _DIV and _WHOLE.fullmatch(written) else _anew(root).encode()


def _character(match: re.Match[str]) -> str:
    return match[0] if match[1] in _OF_XML or match[1] not in html5 else escape(html5[match[1]])


def _anew(node: etree._Element) -> str:
    """Write a div anew, all of it in the XHTML namespace, which it declares itself."""
    return etree.tostring(_copy(node), encoding="unicode", with_tail=False)


def _copy(node: etree._Element) -> etree._Element:
    name = etree.QName(node)
    tag = f"{{{name.namespace or XHTML}}}{name.localname}"
    nsmap: Any = {None: XHTML}
    made = etree.Element(tag, dict(attributes(node)), nsmap=nsmap)
    made.text, made.tail = node.text, node.tail
    made.extend(_copy(child) for child in node)
    return made


# -- XML to JSON -----------------------------------------------------------------------------------


def from_xml(node: etree._Element, written: str | None) -> str:
    """Return the string of JSON for a ``div`` element.

    Parameters
    ----------
    node
        The element.
    written
        The same element as it stands in the file, if known: see ``as_written``.
    """
    if written is not None:
        try:
            alone = parse(written.encode())
        except InputError:
            return _anew(node)
        if _canonical(alone) == _canonical(node):
            return written
    return _anew(node)


def _canonical(node: etree._Element) -> bytes:
    return etree.tostring(node, method="c14n", exclusive=True, with_tail=False)


def as_written(content: bytes, root: etree._Element) -> Mapping[etree._Element, str]:
    """Return each outermost XHTML element of a document with its own characters in the file.

    Parameters
    ----------
    content
        The document, UTF-8 without a byte order mark, that ``parse`` has accepted.
    root
        What ``parse`` made of it.
    """
    if XHTML.encode() not in content:
        return {}
    nodes = [n for n in root.iter(f"{{{XHTML}}}*") if (p := n.getparent()) is None or etree.QName(p).namespace != XHTML]
    slices = _slices(content)
    return dict(zip(nodes, slices, strict=True)) if len(nodes) == len(slices) else {}


def _slices(content: bytes) -> list[str]:
    parser = expat.ParserCreate(namespace_separator=" ")
    found: list[str] = []
    outside = [True]  # for each open element, whether it is outside XHTML
    starts: list[int] = []

    def start(name: str, _: object) -> None:
        inside = name.startswith(XHTML + " ")
        if inside and outside[-1]:
            starts.append(parser.CurrentByteIndex)
        outside.append(not inside)

    def end(_: str) -> None:
        if not outside.pop() and outside[-1]:
            first, last = starts.pop(), parser.CurrentByteIndex
            # an empty element has both events at one place: where its tag ends is not known, so nothing is claimed
            found.append(content[first : content.index(b">", last) + 1].decode() if last > first else "")

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.Parse(content, True)
    return found
