"""Is a narrative that came from elsewhere safe to show, and a copy of it that is.

What R4 forbids (txt-1, txt-2) is judged in one place, ``structure.narrative``; its lists of elements and attributes
are the ones used here. This module adds what R4 lets pass and a reader still has to be kept from: a picture fetched
from elsewhere, which tells a stranger that the note was opened; a style that hides or covers words; a character that
turns the reading direction, so that 4.10 reads 01.4. Common practice, no source.

The copy is built anew from the lists, so nothing comes through that is not named in them. Words are kept: an element
that is not in the lists leaves its content behind, on a line of its own where it was a block, struck out where it was
struck out. Only the inside of ``script`` and ``style`` goes, which is no text. The copy is for showing; what came in
is kept as it came.

Not found here: words in the colour of the ground they stand on.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from lxml import etree

from woundfhir.errors import InputError
from woundfhir.r4.safexml import XHTML, attributes, parse
from woundfhir.r4.structure.narrative import ATTRIBUTES, ELEMENTS, forbidden, is_empty
from woundfhir.r4.xhtml import to_xml

#: Elements without an end tag: HTML 4.0. All others get one, so that a reader of HTML sees the same as one of XML.
_VOID = frozenset(("br", "col", "hr", "img"))
_NO_TEXT = frozenset(("script", "style"))
#: What an element outside the lists becomes; one that is not here either becomes a block.
_INLINE = frozenset(("bdi", "bdo", "button", "data", "font", "kbd", "label", "mark", "output", "svg", "text", "time"))
_STRUCK, _UNDER = frozenset(("del", "s", "strike")), frozenset(("ins", "u"))
_XML_LANG = "{http://www.w3.org/XML/1998/namespace}lang"

#: Attributes that lead to another place, and the elements that may have them (HTML 4.0).
_LINKS = {"href": ("a",), "src": ("img",), "cite": ("blockquote", "q"), "longdesc": ("img",)}
_LINK = re.compile(r"(?:https?://|mailto:|tel:|urn:|[#?]|[\w.~%-]+(?:[/?#]|$)|/(?![/\\]))", re.IGNORECASE)
_PICTURE = re.compile(r"#|data:image/(?:png|jpeg|gif);base64,[A-Za-z0-9+/=\s]*$", re.IGNORECASE)
_BLANKS = re.compile(r"[\x00-\x20\x7f-\xa0]")
#: LEFT-TO-RIGHT OVERRIDE and RIGHT-TO-LEFT OVERRIDE (Unicode Standard Annex 9, section 2.2).
_OVERRIDES = re.compile("[\u202d\u202e]")

_STYLE_LIMIT = 200
_SIDE = "(?:-(?:top|right|bottom|left))?"
_COLOUR = r"(?!transparent)[a-z]+|#(?:[0-9a-f]{3}){1,2}|(?:rgb|hsl)\(\d{1,3}%?(?:,\s*\d{1,3}%?){2}\)"
_BORDER = rf"(?:{_COLOUR}|\d(?:px|pt)?)"
_SPACE = r"(?:auto|0|\d{1,2}(?:px|pt|%)|\d(?:\.\d+)?(?:em|ex))"
#: The declarations of a style that only dress the words (CSS 2.1): a property, and the values it may have. Sizes are
#: not so small, and distances not so large, that words are lost.
_STYLES = [
    (re.compile(f"(?:{name})"), re.compile(f"(?:{value})", re.IGNORECASE))
    for name, value in (
        ("color|background-color", _COLOUR),
        ("font-family", r"[\w\s,'-]+"),
        ("font-(?:style|variant|weight)", "[a-z-]+|[1-9]00"),
        (
            "font-size|line-height",
            r"[a-z-]+|(?:0?\.[5-9]\d*|[1-9]\d?(?:\.\d+)?)(?:em|rem)?"
            r"|(?:[5-9]\d|[1-9]\d\d)(?:\.\d+)?%|(?:[6-9]|[1-9]\d)(?:\.\d+)?(?:px|pt)",
        ),
        ("text-(?:align|decoration)|vertical-align|list-style-type|white-space|border-collapse", "[a-z-]+"),
        (f"border{_SIDE}(?:-(?:color|style|width))?", rf"{_BORDER}(?:\s+{_BORDER}){{0,3}}"),
        (f"margin{_SIDE}|padding{_SIDE}|text-indent|border-spacing", rf"{_SPACE}(?:\s+{_SPACE}){{0,3}}"),
        ("width|max-width|min-width", r"auto|\d{1,4}(?:\.\d+)?(?:px|pt|em|ex|%)"),
    )
]


@dataclass(frozen=True, slots=True)
class NarrativeIssue:
    """One thing that should not be there.

    Attributes
    ----------
    rule
        ``txt-1`` or ``txt-2`` of R4, or ``safety``: allowed by R4, and not shown by us.
    what
        In general words, without any of the content.
    """

    rule: Literal["txt-1", "txt-2", "safety"]
    what: str


def problems(div: str) -> list[NarrativeIssue]:
    """Return what a narrative should not hold, each thing once.

    Parameters
    ----------
    div
        The XHTML as JSON has it.

    Examples
    --------
    >>> head = '<div xmlns="http://www.w3.org/1999/xhtml">'
    >>> [problem.rule for problem in problems(head + '<script>x()</script><img src="http://example.org/1.png"/></div>')]
    ['txt-1', 'safety']
    >>> problems(head + "<p>Slough 40 %</p></div>")
    []
    """
    found = [NarrativeIssue("txt-1", what) for what in forbidden(div)]
    if is_empty(div):
        found.append(NarrativeIssue("txt-2", "neither words nor a picture"))
    try:
        root = parse(to_xml(div, "div"))
    except InputError:
        return found or [NarrativeIssue("txt-1", "no XHTML")]
    return found + [NarrativeIssue("safety", what) for what in dict.fromkeys(_unsafe(root))]


def _unsafe(root: etree._Element) -> Iterator[str]:
    for node in root.iter():
        name = etree.QName(node).localname.lower()
        if _OVERRIDES.search((node.text or "") + (node.tail or "")):
            yield "a character that turns the reading direction"
        for key, value in attributes(node):
            if key == "src" and not _PICTURE.match(value):
                yield "a picture that is fetched from elsewhere, or of a kind other than PNG, JPEG and GIF"
            elif key in _LINKS and not _link(name, key, value):
                yield "a link to no place that a reader can know, or on an element that is none"
            elif key == "style" and name in ELEMENTS and _style(value) != _tidy(value):
                yield "a style that can hide or cover words, or that is not known"
            elif key in ATTRIBUTES and _OVERRIDES.search(value):
                yield "a character that turns the reading direction"


def clean(div: str, where: str = "text.div") -> str:
    """Return a copy of a narrative that is safe to show: well-formed as XML, and read the same way as HTML.

    Parameters
    ----------
    div
        The XHTML as JSON has it.
    where
        Its place, for the error.

    Raises
    ------
    InputError
        When it is no XHTML: no well-formed ``div``, or one with a DOCTYPE. Show nothing of it then.

    Examples
    --------
    >>> clean('<div xmlns="http://www.w3.org/1999/xhtml"><p onclick="x()">4.10 cm<br/></p><p/><s>honey</s></div>')
    ... # doctest: +NORMALIZE_WHITESPACE
    '<div xmlns="http://www.w3.org/1999/xhtml"><p>4.10
    cm<br/></p><p></p><span style="text-decoration: line-through">honey</span></div>'
    """
    root = parse(to_xml(div, where), where)
    made = _element("div")
    made.attrib.update(dict(_safe(root, "div")))
    _fill(made, root)
    made.tail = None
    return etree.tostring(made, encoding="unicode")


def _element(name: str) -> etree._Element:
    return etree.Element(f"{{{XHTML}}}{name}", nsmap={None: XHTML})  # type: ignore[dict-item]


def _fill(made: etree._Element, node: etree._Element) -> None:
    """Put the words and the children of a node into its copy. No deeper than the parser lets it be: 256."""
    _add(made, node.text)
    for child in node:
        name = etree.QName(child).localname.lower()
        if name not in _NO_TEXT:
            copy = _copy(child, name)
            made.append(copy)
            _fill(copy, child)
            if name in _VOID and (len(copy) or copy.text):
                _spill(made, copy)
        _add(made, child.tail)
    if etree.QName(made).localname not in _VOID and not len(made) and made.text is None:
        made.text = ""  # written with an end tag


def _copy(node: etree._Element, name: str) -> etree._Element:
    if name in ELEMENTS:
        copy = _element(name)
        copy.attrib.update(dict(_safe(node, name)))
        return copy
    if name in _STRUCK or name in _UNDER:
        copy = _element("span")
        copy.set("style", "text-decoration: line-through" if name in _STRUCK else "text-decoration: underline")
        return copy
    return _element("span" if name in _INLINE else "div")


def _spill(made: etree._Element, void: etree._Element) -> None:
    """Move what stands inside an element that can hold nothing to a place behind it."""
    words, children = void.text, list(void)
    void.text = None
    _add(made, words)
    made.extend(children)


def _add(made: etree._Element, words: str | None) -> None:
    """Put words at the end of an element."""
    if not words:
        return
    words = _OVERRIDES.sub("", words)
    if len(made):
        made[-1].tail = (made[-1].tail or "") + words
    else:
        made.text = (made.text or "") + words


# -- attributes ------------------------------------------------------------------------------------


def _safe(node: etree._Element, name: str) -> Iterator[tuple[str, str]]:
    """Yield the attributes that the copy may have."""
    for key, value in attributes(node):
        value = _OVERRIDES.sub("", value)
        if key == "style":
            if style := _style(value):
                yield key, style
        elif _link(name, key, value) if key in _LINKS else key in ATTRIBUTES or key == _XML_LANG:
            yield key, value


def _link(name: str, key: str, value: str) -> bool:
    """Whether a link is of a known kind, as a browser reads it: without blanks and control characters."""
    if name not in _LINKS[key]:
        return False
    return (_PICTURE.match(value) if key == "src" else _LINK.match(_BLANKS.sub("", value))) is not None or not value


def _tidy(style: str) -> str:
    """Return the declarations of a style in one form, all of them."""
    return "; ".join(f"{name}: {value}" for name, value in _declarations(style))


def _style(style: str) -> str:
    """Return the declarations that only dress the words."""
    return "; ".join(f"{name}: {value}" for name, value in _declarations(style) if _dresses(name, value))


def _dresses(name: str, value: str) -> bool:
    return len(value) <= _STYLE_LIMIT and any(known.fullmatch(name) and fit.fullmatch(value) for known, fit in _STYLES)


def _declarations(style: str) -> Iterator[tuple[str, str]]:
    for declaration in style.split(";"):
        name, _, value = declaration.partition(":")
        if declaration.strip():
            yield name.strip().lower(), value.strip()
