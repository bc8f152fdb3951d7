"""What a narrative may hold (R4, txt-1 and txt-2)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

from lxml import etree

from woundfhir.errors import InputError
from woundfhir.r4.narrative.acting import ACTING, reaches_outside
from woundfhir.r4.safexml import XHTML, attributes, parse

#: Elements and attributes of HTML 4.0 that R4 admits: the lists of the XPath of txt-1.
# fmt: off
ELEMENTS = frozenset(
    (
        "a", "abbr", "acronym", "b", "big", "blockquote", "br", "caption", "cite", "code", "col", "colgroup", "dd",
        "dfn", "div", "dl", "dt", "em", "h1", "h2", "h3", "h4", "h5", "h6", "hr", "i", "img", "li", "ol", "p",
        "pre", "q", "samp", "small", "span", "strong", "sub", "sup", "table", "tbody", "td", "tfoot", "th", "thead",
        "tr", "tt", "ul", "var",
    )
)
ATTRIBUTES = frozenset(
    (
        "abbr", "accesskey", "align", "alt", "axis", "bgcolor", "border", "cellhalign", "cellpadding",
        "cellspacing", "cellvalign", "char", "charoff", "charset", "cite", "class", "colspan", "compact", "coords",
        "dir", "frame", "headers", "height", "href", "hreflang", "hspace", "id", "lang", "longdesc", "name",
        "nowrap", "rel", "rev", "rowspan", "rules", "scope", "shape", "span", "src", "start", "style", "summary",
        "tabindex", "title", "type", "valign", "value", "vspace", "width",
    )
)
#: Elements that are named when they are refused; other names are not repeated, they may be anything.
_NAMED = ACTING | {"map", "title"}
# fmt: on
#: xml:lang stands in R4's schema of XHTML (fhir-xhtml.xsd), though not in the XPath.
_XML_LANG = "{http://www.w3.org/XML/1998/namespace}lang"
#: Schemes that lead a reader somewhere; no scheme is a place in the document or beside it. Common practice for the
#: choice of schemes, no source; R4 forbids scripts.
_SCHEMES = frozenset(("http", "https", "mailto", "tel", "urn"))
_KNOWN = frozenset(("javascript", "vbscript", "data", "file", "ftp", "blob"))
_SCHEME = re.compile(r"([a-zA-Z][a-zA-Z0-9+.-]*):")


@lru_cache(maxsize=256)
def _parsed(div: str) -> etree._Element | str:
    """Return the element, or say why there is none."""
    try:
        return parse(div.encode("utf-8", "replace"))
    except InputError as error:
        return f"no well-formed XML ({error.where})"


def forbidden(div: str) -> Iterator[str]:
    """Yield each thing that txt-1 does not admit, in words.

    Parameters
    ----------
    div
        The narrative's XHTML as JSON has it.

    Examples
    --------
    >>> list(forbidden('<div xmlns="http://www.w3.org/1999/xhtml"><p onclick="x()">4 cm</p></div>'))
    ['the attribute onclick']
    >>> list(forbidden("<div>4 cm</div>"))
    ['a div outside the namespace http://www.w3.org/1999/xhtml']
    """
    root = _parsed(div)
    if isinstance(root, str):
        yield root
        return
    if root.tag != f"{{{XHTML}}}div":
        local = etree.QName(root).localname
        yield f"a div outside the namespace {XHTML}" if local == "div" else "an outermost element that is no div"
        return
    seen: set[str] = set()
    for node in root.iter():
        for found in _of_element(node):
            if found not in seen:
                seen.add(found)
                yield found


def _of_element(node: etree._Element) -> Iterator[str]:
    name = etree.QName(node)
    if name.namespace != XHTML or name.localname not in ELEMENTS:
        yield f"the element {name.localname}" if name.localname in _NAMED else "an element that HTML does not have"
        return
    for key, value in attributes(node):
        if key not in ATTRIBUTES and key != _XML_LANG:
            local = etree.QName(key).localname
            yield (
                f"the attribute {local}"
                if local.startswith("on") and local.isalpha()
                else "an attribute not in the list"
            )
        elif key == "style" and reaches_outside(value):
            yield "a style that reaches outside"
        elif key in ("href", "src", "cite", "longdesc") and (scheme := _scheme(value)):
            image = name.localname == "img" and key == "src" and value.strip().lower().startswith("data:image/")
            if scheme not in _SCHEMES and not image:
                yield f"a link of the scheme {scheme}" if scheme in _KNOWN else "a link of another scheme"


def _scheme(link: str) -> str:
    """Return the scheme of a link as a browser reads it: blanks and control characters do not count."""
    match = _SCHEME.match(re.sub(r"[\x00-\x20]", "", link))
    return match[1].lower() if match else ""


def is_empty(div: str) -> bool:
    """Whether a narrative has neither words nor an image (txt-2); what is no XML is left to txt-1.

    Examples
    --------
    >>> is_empty('<div xmlns="http://www.w3.org/1999/xhtml"> <p/></div>')
    True
    """
    root = _parsed(div)
    if isinstance(root, str):
        return False
    return not any(str(text).strip() for text in root.itertext()) and not any(
        node.get("src") for node in root.iter(f"{{{XHTML}}}img")
    )
