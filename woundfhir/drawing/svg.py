"""A small SVG writer on lxml: numbers with two places, no scripts, no outside references, a title and a description."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from lxml import etree

SVG = "http://www.w3.org/2000/svg"
_NAMESPACES: Any = {None: SVG}
FONT = "DejaVu Sans, Arial, sans-serif"


def number(value: float) -> str:
    """Return a number with at most two places and no tail.

    Examples
    --------
    >>> number(3.0), number(2.456), number(-0.001)
    ('3', '2.46', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


class Drawing:
    """One drawing of a width and a height, in user units of a CSS pixel."""

    def __init__(self, width: float, height: float, title: str, description: str) -> None:
        self.root = etree.Element(f"{{{SVG}}}svg", nsmap=_NAMESPACES)
        self.root.set("viewBox", f"0 0 {number(width)} {number(height)}")
        self.root.set("width", number(width))
        self.root.set("height", number(height))
        self.root.set("role", "img")
        self.root.set("font-family", FONT)
        self.add("title").text = title
        self.add("desc").text = description

    def add(self, tag: str, parent: etree._Element | None = None, **attributes: Any) -> etree._Element:
        """Add an element; attribute names take ``_`` for ``-``, numbers are rounded."""
        made = etree.SubElement(self.root if parent is None else parent, f"{{{SVG}}}{tag}")
        for key, value in attributes.items():
            made.set(
                key.rstrip("_").replace("_", "-"), number(value) if isinstance(value, (int, float)) else str(value)
            )
        return made

    def line(
        self, x1: float, y1: float, x2: float, y2: float, *, width: float = 1, dash: str = "", **more: Any
    ) -> None:
        """Add a black line, dashed where told."""
        style: dict[str, Any] = {"stroke_dasharray": dash} if dash else {}
        self.add("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke="#000", stroke_width=width, **style, **more)

    def text(
        self, x: float, y: float, words: str, *, size: float = 13, anchor: str = "start", bold: bool = False
    ) -> None:
        """Add one line of text."""
        weight: dict[str, Any] = {"font_weight": "bold"} if bold else {}
        self.add("text", x=x, y=y, font_size=size, text_anchor=anchor, **weight).text = words

    def path(
        self,
        points: Iterable[tuple[float, float]],
        *,
        width: float = 2,
        dash: str = "",
        fill: str = "none",
        close: bool = False,
    ) -> None:
        """Add a black path through points."""
        steps = " L ".join(f"{number(x)} {number(y)}" for x, y in points)
        style: dict[str, Any] = {"stroke_dasharray": dash} if dash else {}
        self.add("path", d=f"M {steps}{' Z' if close else ''}", fill=fill, stroke="#000", stroke_width=width, **style)

    def bytes(self) -> bytes:
        """Return the drawing as UTF-8."""
        return etree.tostring(self.root, encoding="UTF-8", xml_declaration=False)
