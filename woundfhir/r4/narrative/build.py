"""XHTML narrative: built from plain words, escaped by lxml, within what R4 (txt-1) admits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from lxml import etree

from woundfhir.r4.safexml import XHTML

_NAMESPACES: Any = {None: XHTML}


def element(tag: str, *content: str | etree._Element, **attributes: str) -> etree._Element:
    """Return an XHTML element with text and elements in it.

    Examples
    --------
    >>> etree.tostring(element("p", "4 < 5 ", element("b", "cm"))).decode()
    '<p xmlns="http://www.w3.org/1999/xhtml">4 &lt; 5 <b>cm</b></p>'
    """
    made = etree.Element(
        f"{{{XHTML}}}{tag}", {key.rstrip("_"): value for key, value in attributes.items()}, nsmap=_NAMESPACES
    )
    for part in content:
        if isinstance(part, str):
            if len(made):
                made[-1].tail = (made[-1].tail or "") + part
            else:
                made.text = (made.text or "") + part
        else:
            made.append(part)
    return made


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> etree._Element:
    """Return a table with a head row."""
    return element(
        "table",
        element("thead", element("tr", *[element("th", cell) for cell in head])),
        element("tbody", *[element("tr", *[element("td", cell) for cell in row]) for row in rows]),
    )


def narrative(*content: str | etree._Element, language: str = "en") -> dict[str, Any]:
    """Return a FHIR Narrative, status generated."""
    made = element("div", *content, lang=language)
    made.set("{http://www.w3.org/XML/1998/namespace}lang", language)
    div = etree.tostring(made, encoding="unicode")
    return {"status": "generated", "div": div}
