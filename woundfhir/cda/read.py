"""A CDA document as FHIR resources, and what of it no resource says."""

from __future__ import annotations

from woundfhir.cda.acts import Context
from woundfhir.cda.entries import Entries
from woundfhir.cda.header import Header
from woundfhir.cda.tree import Tree, kid
from woundfhir.r4.origin import Source
from woundfhir.r4.safexml import in_utf8


def read(content: bytes) -> Source:
    """Return what a CDA document says.

    Parameters
    ----------
    content
        Bytes in UTF-8, or in the encoding that they declare; the caller has checked the size.

    Raises
    ------
    InputError
        For broken or hostile XML, with line and column, and for what is no CDA document.

    Examples
    --------
    >>> made = read(b'<ClinicalDocument xmlns="urn:hl7-org:v3"><recordTarget><patientRole>'
    ...             b'<id root="1.2.3" extension="A"/></patientRole></recordTarget></ClinicalDocument>')
    >>> made.resources[0]["identifier"]
    [{'system': 'urn:oid:1.2.3', 'value': 'A'}]
    """
    source = Source()
    tree = Tree(in_utf8(content), source)
    header = Header(tree, source)
    clients = header.clients()
    author = header.author(kid(tree.root, "author"), "assignedAuthor")
    client = clients[0] if clients else None
    Entries(tree, source, header).read(Context(client, header.encounter(client, author), author))
    body = kid(tree.root, "component", "nonXMLBody")
    if body is not None:
        source.notices.append("the body of the document is a file: nothing in it is read; open it")
    return source
