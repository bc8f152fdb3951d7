"""XML parsed with nothing that XML can do beyond elements and attributes: no DTD, no entities, no files, no network.

Refusing every DOCTYPE closes entity expansion and external entities (CWE-776, CWE-611) before any parser sees them;
libxml2's own limits (256 levels, 10 MB for one value) stay on.
"""

from __future__ import annotations

import re

from lxml import etree

from woundfhir.errors import InputError
from woundfhir.limits import XML_ATTRIBUTES, XML_ELEMENTS
from woundfhir.r4.utf8 import to_text

FHIR = "http://hl7.org/fhir"
XHTML = "http://www.w3.org/1999/xhtml"

#: Atomic: without that, a row of comments in front of the root takes exponential time.
_DOCTYPE = re.compile(rb"(?>\s+|<\?.*?\?>|<!--.*?-->)*+<!DOCTYPE", re.DOTALL)
_ENCODING = re.compile(rb"<\?xml[^>]*?\sencoding\s*=\s*[\"']([\w.-]+)")
#: A tag that has room for more attributes than are allowed, with the text behind it; the values of attributes.
_LONG_TAG = re.compile(rb"<[A-Za-z_:][^<]{400,}+")
_VALUES = re.compile(rb"\"[^\"]*+\"|'[^']*+'")
_RESOURCE_LIMIT, _UNDECLARED_ENTITY = 114, 26  # libxml2: XML_ERR_RESOURCE_LIMIT, XML_ERR_UNDECLARED_ENTITY


def parse(content: bytes, where: str = "") -> etree._Element:
    """Return the root of an XML text; comments and processing instructions are left out.

    Parameters
    ----------
    content
        UTF-8 bytes; the caller has checked the size.
    where
        Path of the element that holds the text, when it is part of a resource; put before line and column.

    Raises
    ------
    InputError
        For a DOCTYPE, another encoding, broken or too deep XML; with line and column, without any of the content.

    Examples
    --------
    >>> parse(b"<a><b/></a>")[0].tag
    'b'
    >>> parse(b"<!DOCTYPE a><a/>")
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: XML: expected XML without a DOCTYPE (no entities, no files). Take the DOCTYPE out
    """
    content = _plain(content, where)
    _refuse_beyond(content, where)
    parser = etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        recover=False,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        root = etree.fromstring(content, parser)
    except etree.XMLSyntaxError as error:
        raise _explained(error, where) from None
    if root.getroottree().docinfo.internalDTD is not None:  # a second net: the first should have held it
        raise _doctype(where)
    return root


#: Encodings in which documents that are no FHIR come, as XML declares them -> Python's name.
_OTHERS = {
    b"iso-8859-1": "iso-8859-1", b"latin1": "iso-8859-1", b"iso-8859-2": "iso-8859-2", b"iso-8859-15": "iso-8859-15",
    b"windows-1252": "cp1252", b"windows-1250": "cp1250",
}  # fmt: skip
_CONTROLS = re.compile("[\x80-\x9f]")


def in_utf8(content: bytes) -> bytes:
    """Return an XML text in UTF-8, whatever common encoding it declares; FHIR is UTF-8 and needs none of this.

    Raises
    ------
    InputError
        For an encoding that is not known here, and for bytes that are none of the declared one.

    Examples
    --------
    >>> in_utf8('<?xml version="1.0" encoding="iso-8859-1"?><a>é</a>'.encode("iso-8859-1")).decode()
    '<?xml version="1.0" encoding="UTF-8"?><a>é</a>'
    """
    marked = content[:2] in (b"\xff\xfe", b"\xfe\xff")
    if content[:4] == b"<\x00?\x00":
        content, marked = b"\xff\xfe" + content, True
    declared = _ENCODING.match(content)
    name = "utf-16" if marked else _OTHERS.get(declared[1].lower(), "") if declared else ""
    if not name:
        return content  # UTF-8, or refused where it is parsed
    try:
        text = content.decode(name)
    except UnicodeDecodeError as error:
        raise InputError(f"byte {error.start}", f"text in {name.upper()}, as declared", _SEND) from None
    if name == "iso-8859-1" and (odd := _CONTROLS.search(text)) is not None:
        raise InputError(f"byte {odd.start()}", "text in ISO-8859-1, as declared; this is Windows-1252", _SEND)
    made = text.encode()
    declared = _ENCODING.match(made)
    return made if declared is None else made[: declared.start(1)] + b"UTF-8" + made[declared.end(1) :]


_SEND = "Ask the sender for UTF-8"


def _plain(content: bytes, where: str) -> bytes:
    """Return the bytes to parse, once it is clear that they are UTF-8 and bring no DOCTYPE."""
    text = to_text(content)
    content = content.removeprefix(b"\xef\xbb\xbf")
    declared = _ENCODING.match(content)
    if declared and declared[1].lower() not in (b"utf-8", b"us-ascii"):
        raise InputError(where or "line 1", "XML declared as UTF-8", "Save the file as UTF-8")
    if _DOCTYPE.match(content):
        raise _doctype(where)
    if not text.strip():
        raise InputError(where or "XML", "one XML element, and this is empty", "Copy or send the file again")
    return content


def _refuse_beyond(content: bytes, where: str) -> None:
    """Refuse more elements, or attributes of one element, than any resource has: libxml2 would build them all."""
    if content.count(b"<") > 2 * XML_ELEMENTS:  # a start and an end each
        raise InputError(
            where or "XML", f"at most {XML_ELEMENTS:,} elements", "Split it, or send it as NDJSON in parts"
        )
    for tag in _LONG_TAG.finditer(content):
        names = _VALUES.sub(b"", tag[0]).partition(b">")[0]
        if names.count(b"=") > XML_ATTRIBUTES:
            line = content.count(b"\n", 0, tag.start()) + 1
            place = f"{where + ', ' if where else ''}line {line}"
            raise InputError(place, f"at most {XML_ATTRIBUTES} attributes of one element", "Take out what is not FHIR")


def attributes(node: etree._Element) -> list[tuple[str, str]]:
    """Return name and value of each attribute, as text."""
    return [(str(name), str(value)) for name, value in node.items()]


def _doctype(where: str) -> InputError:
    return InputError(where or "XML", "XML without a DOCTYPE (no entities, no files)", "Take the DOCTYPE out")


def _explained(error: etree.XMLSyntaxError, where: str) -> InputError:
    line, column = error.position
    place = f"{where + ', ' if where else ''}line {line}, column {column}"
    code = getattr(error, "code", None)
    if code == _RESOURCE_LIMIT:
        return InputError(place, "at most 256 levels, and at most 10 MB in one value", "Send large data on its own")
    if code == _UNDECLARED_ENTITY:
        return InputError(place, "characters, or numeric references such as &#160;", "XML knows but five names")
    return InputError(place, "well-formed XML, and it breaks here", "Look for an open tag, a quote or a bad character")
