"""FHIR XML documents and the plain dicts of JSON, exact both ways, for every resource type of R4."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from lxml import etree

from woundfhir.limits import LIMIT, check_size
from woundfhir.r4.narrative import xhtml
from woundfhir.r4.safexml import parse
from woundfhir.r4.xmltree import Unknown, Walk, read_resource, write_resource

Json = Any

__all__ = ["Unknown", "decode", "encode"]

_PLACE = re.compile(rb"<\?narrative (\d+)\?>")


def encode(resource: Mapping[str, Json], *, readable: bool = True, unknown: list[Unknown] | None = None) -> bytes:
    """Return a resource as FHIR XML.

    Parameters
    ----------
    resource
        As JSON has it: numbers as ``int`` or ``Decimal``.
    readable
        Indented by two spaces; the narrative is left as it is.
    unknown
        A list that takes what R4 does not define; without it the first such thing is refused.

    Returns
    -------
    bytes
        UTF-8, with declaration and a line end.

    Raises
    ------
    InputError
        With the path, for what FHIR XML cannot say: an unknown type of resource, a list where one stands, an empty
        list, a number that is a text, a narrative that is not XHTML, characters that XML does not have.

    Examples
    --------
    >>> from decimal import Decimal
    >>> print(encode({"resourceType": "Observation", "valueQuantity": {"value": Decimal("4.10")}}).decode())
    <?xml version="1.0" encoding="UTF-8"?>
    <Observation xmlns="http://hl7.org/fhir">
      <valueQuantity>
        <value value="4.10"/>
      </valueQuantity>
    </Observation>
    <BLANKLINE>
    """
    walk = Walk(unknown)
    root = write_resource(walk, resource, None, "", 0)
    body = etree.tostring(root, encoding="UTF-8", xml_declaration=False, pretty_print=readable).rstrip(b"\n")
    body = _PLACE.sub(lambda match: walk.narratives[int(match[1])], body)
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + body + b"\n"


def decode(content: bytes, limit: int = LIMIT, *, unknown: list[Unknown] | None = None) -> dict[str, Json]:
    """Return the resource of a FHIR XML document as JSON has it, its members in the order that R4 gives.

    Parameters
    ----------
    content
        UTF-8 bytes.
    limit
        The largest content, in bytes.
    unknown
        A list that takes what R4 does not define; without it the first such thing is refused.

    Raises
    ------
    InputError
        With line and column or with the path: another encoding, a DOCTYPE, broken XML, no R4 resource, a value
        that its type does not have, more than the limit.

    Examples
    --------
    >>> decode(b'<Patient xmlns="http://hl7.org/fhir"><birthDate value="1948-03"/></Patient>')
    {'resourceType': 'Patient', 'birthDate': '1948-03'}
    """
    check_size(len(content), limit)
    root = parse(content)
    walk = Walk(unknown, written=xhtml.as_written(content.removeprefix(b"\xef\xbb\xbf"), root))
    return read_resource(walk, root, "", 0)
