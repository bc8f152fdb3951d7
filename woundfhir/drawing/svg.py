"""A small SVG writer on lxml: numbers with two places, no scripts, no outside references, a title and a description.

Black lines on white: what distinguishes things is the shape of a mark and the dash of a line, so that a print without
colour, or a fax, says the same.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import Any

from lxml import etree

SVG = "http://www.w3.org/2000/svg"
_NAMESPACES: Any = {None: SVG}
#: The reader's own sans-serif: no font is named, none is fetched.
FONT = "sans-serif"
#: A letter is about this wide, as a share of its size: enough to place and to wrap text without measuring fonts.
_LETTER = 0.57

XY = tuple[float, float]


def number(value: float) -> str:
    """Return a number with at most two places and no tail.

    Examples
    --------
    >>> number(3.0), number(2.456), number(-0.001)
    ('3', '2.46', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def text_width(words: str, size: float) -> float:
    """Return about how wide a line of text is, in pixels.

    Examples
    --------
    >>> round(text_width("2026-03-02", 11))
    63
    """
    return len(words) * size * _LETTER


def wrapped(words: str, size: float, width: float, most: int = 2) -> list[str]:
    """Return text in at most so many lines that are not wider than asked, broken between words.

    What does not fit is cut with a mark; the description of the drawing holds it whole.

    Examples
    --------
    >>> wrapped("one two three", 10, 45)
    ['one two', 'three']
    >>> wrapped("one two three four five", 10, 60, most=2)
    ['one two', 'three …']
    """
    letters = max(8, int(width / (size * _LETTER)))
    return textwrap.wrap(words, letters, max_lines=most, placeholder=" \u2026") or [""]


def printable(words: str) -> str:
    """Return text without the characters that XML cannot carry.

    Examples
    --------
    >>> printable("W1" + chr(0) + " left")
    'W1 left'
    """
    return "".join(
        c for c in words if c in "\t\n\r" or (c >= " " and not 0xD800 <= ord(c) <= 0xDFFF and c not in "\ufffe\uffff")
    )


class Drawing:
    """One drawing of a width and a height, in user units of a CSS pixel, on white."""

    def __init__(self, width: float, height: float, title: str, description: str) -> None:
        self.root = etree.Element(f"{{{SVG}}}svg", nsmap=_NAMESPACES)
        self.root.set("viewBox", f"0 0 {number(width)} {number(height)}")
        self.root.set("width", number(width))
        self.root.set("height", number(height))
        self.root.set("role", "img")
        self.root.set("font-family", FONT)
        self.add("title").text = printable(title)
        self.add("desc").text = printable(description)
        self.add("rect", x=0, y=0, width=width, height=height, fill="#fff")

    def add(self, tag: str, parent: etree._Element | None = None, **attributes: Any) -> etree._Element:
        """Add an element; attribute names take ``_`` for ``-``, numbers are rounded."""
        made = etree.SubElement(self.root if parent is None else parent, f"{{{SVG}}}{tag}")
        for key, value in attributes.items():
            text = number(value) if isinstance(value, (int, float)) else str(value)
            made.set(key.rstrip("_").replace("_", "-"), text)
        return made

    def line(self, start: XY, end: XY, *, width: float = 1, dash: str = "") -> None:
        """Add a black line, dashed where asked for."""
        style: dict[str, Any] = {"stroke_dasharray": dash} if dash else {}
        self.add("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], stroke="#000", stroke_width=width, **style)

    def text(self, at: XY, words: str, *, size: float = 12, anchor: str = "start", bold: bool = False) -> None:
        """Add one line of text."""
        weight: dict[str, Any] = {"font_weight": "bold"} if bold else {}
        made = self.add("text", x=at[0], y=at[1], font_size=size, text_anchor=anchor, **weight)
        made.text = printable(words)

    def label(self, at: XY, words: str, *, size: float = 11, anchor: str = "start", bold: bool = False) -> None:
        """Add one line of text on a white ground, for places where lines run."""
        wide = text_width(words, size)
        left = at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        self.add("rect", x=left - 2, y=at[1] - size, width=wide + 4, height=size + 3, fill="#fff")
        self.text(at, words, size=size, anchor=anchor, bold=bold)

    def path(
        self, points: Iterable[XY], *, width: float = 2, dash: str = "", fill: str = "none", close: bool = False
    ) -> None:
        """Add a black path through points."""
        steps = " L ".join(f"{number(x)} {number(y)}" for x, y in points)
        style: dict[str, Any] = {"stroke_dasharray": dash} if dash else {}
        end = " Z" if close else ""
        self.add(
            "path", d=f"M {steps}{end}", fill=fill, stroke="#000", stroke_width=width, stroke_linejoin="round", **style
        )

    def mark(self, shape: str, at: XY, size: float = 4) -> None:
        """Add a mark: ``circle``, ``ring``, ``square``, ``diamond``, ``down`` (a triangle), ``up`` (an open one)."""
        x, y = at
        if shape in ("circle", "ring"):
            self.add("circle", cx=x, cy=y, r=size, fill=_FILL[shape], stroke="#000", stroke_width=1.5)
            return
        corners = [(x + dx * size, y + dy * size) for dx, dy in _CORNERS[shape]]
        self.path(corners, width=1.5, fill=_FILL[shape], close=True)

    def bytes(self) -> bytes:
        """Return the drawing as UTF-8, the same bytes each time."""
        return etree.tostring(self.root, encoding="UTF-8", xml_declaration=False)


_FILL = {"circle": "#000", "ring": "#fff", "square": "#fff", "diamond": "#000", "down": "#000", "up": "#fff"}
_CORNERS = {
    "square": ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)),
    "diamond": ((0, -1.3), (1.3, 0), (0, 1.3), (-1.3, 0)),
    "down": ((-1, -0.8), (1, -0.8), (0, 0.9)),
    "up": ((-1, 0.8), (1, 0.8), (0, -0.9)),
}
