"""What in a narrative or a link would act when it is shown: refused, never shown, never passed on.

R4 (narrative, txt-1) admits no script, form, frame, object, head or event; ``check`` says of every element
whether it may stand there. Here only what acts counts: a hand-over is not refused for a harmless element of HTML.
The lists are common practice (the elements and attributes of HTML that run or load something), no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from lxml import etree

from woundfhir.errors import InputError
from woundfhir.r4 import safexml
from woundfhir.r4.narrative import xhtml

_ACTING = """
    applet audio base body button canvas embed form frame frameset head html iframe input link math meta noscript
    object portal script select source style svg template textarea track video
"""
ACTING = frozenset(_ACTING.split())
_LINKS = frozenset(
    ("href", "src", "cite", "longdesc", "background", "action", "formaction", "data", "srcset", "poster")
)
_RUNS = re.compile(r"(?:java|vb|live)script:|data:(?!image/(?:png|jpe?g|gif)[;,])")
#: What a style must not do: fetch something, run something (in old browsers), or hide either behind an escape or a
#: comment (CSS 2.1, 4.1.3 and 4.1.9).
_STYLE = re.compile(r"url\(|\\|/\*|@import|expression\(|javascript:|vbscript:|behaviou?r:|-moz-binding")
#: Blanks and characters without width, with which a scheme is hidden from the eye.
_SPACE = re.compile("[\\s\x00-\x20\x7f-\xa0\u00ad\u200b-\u200f\ufeff]+")
_URL_KEYS = re.compile(r"\.(?:url|valueUrl|valueUri|instantiatesUri(?:\[\d+\])?)$")


def active_content(path: str, text: str) -> Iterator[str]:
    r"""Yield what in the text at a path would act.

    Parameters
    ----------
    path
        Where it stands; a narrative ends with ``.div``, a link with ``.url`` and the like.
    text
        The text itself; no part of it comes back.

    Examples
    --------
    >>> list(active_content("Patient.text.div", '<div xmlns="http://www.w3.org/1999/xhtml"><script>1</script></div>'))
    ['a narrative without active content (txt-1): it holds an element script']
    >>> list(active_content("Attachment.url", " java\tscript:alert(1)"))
    ['a link that opens something: this one would run code']
    """
    if path.endswith(".div"):
        yield from dict.fromkeys(_narrative(path, text))
    elif _URL_KEYS.search(path) and runs(text):
        yield "a link that opens something: this one would run code"


def runs(link: str) -> bool:
    """Whether a link would run code when it is followed.

    Examples
    --------
    >>> runs("JaVaScRiPt:alert(1)"), runs("https://example.org"), runs("data:text/html,x")
    (True, False, True)
    """
    return bool(_RUNS.match(_SPACE.sub("", link).lower()))


def reaches_outside(style: str) -> bool:
    """Whether a style would fetch or run something.

    Examples
    --------
    >>> reaches_outside("background: URL (x)"), reaches_outside("color: red")
    (True, False)
    """
    return bool(_STYLE.search(_SPACE.sub("", style).lower()))


def _narrative(path: str, div: str) -> Iterator[str]:
    try:
        root = safexml.parse(xhtml.to_xml(div, path), path)
    except InputError as error:
        yield f"a well-formed XHTML div (txt-1): {error.expected}"
        return
    for node in root.iter(etree.Element):
        name = etree.QName(node)
        tag = name.localname.lower()
        if tag in ACTING:
            yield f"a narrative without active content (txt-1): it holds an element {tag}"
        elif name.namespace not in (None, safexml.XHTML):
            yield "a narrative in XHTML alone (txt-1): it holds an element of another language"
        for key, value in safexml.attributes(node):
            yield from _attribute(etree.QName(key).localname.lower(), value)


def _attribute(key: str, value: str) -> Iterator[str]:
    if key.startswith("on"):
        yield "a narrative without events (txt-1): it holds an attribute that starts with 'on'"
    elif key in _LINKS and runs(value):
        yield "a narrative without links that run code (txt-1)"
    elif key == "style" and reaches_outside(value):
        yield "a narrative without a style that loads or runs something (txt-1)"
