"""What a file is, by its content and never by its name."""

from __future__ import annotations

import re

_HEAD = 65536
_SEALED = re.compile(rb"\s*[A-Za-z0-9_-]{8,}\.[A-Za-z0-9_-]*\.[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]*\.[A-Za-z0-9_-]+)?\s*")


def sniff(content: bytes) -> str:
    """Return what the bytes are.

    Returns
    -------
    str
        ``fhir-json``, ``fhir-xml``, ``ndjson``, ``record-json``, ``record-yaml``, ``record-csv``, ``sealed``
        (compact JOSE) or ``unknown``. Half a file is still told by how it starts, so that its reader can say
        where it breaks.

    Examples
    --------
    >>> sniff(b'{"resourceType": "Patient"}'), sniff(b"woundfhir: 1"), sniff(b"woundfhir,zone"), sniff(b"<Patient/>")
    ('fhir-json', 'record-yaml', 'record-csv', 'fhir-xml')
    """
    head = content[:_HEAD]
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "record-json" if b"{\x00" in head[:8] or b"\x00{" in head[:8] else "record-yaml"
    start = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if start[:1] == b"<":
        return "fhir-xml"
    if start[:1] == b"{":
        return _json(start)
    if start[:1] == b"[":
        return "record-json"
    if _SEALED.fullmatch(content if len(content) < _HEAD else head.split(b"\n")[0]):
        return "sealed"
    line = start.split(b"\n", 1)[0].strip()
    if re.search(rb'(^|,)"?(woundfhir|visit\.id|wound\.id)"?(,|$)', line):
        return "record-csv"
    if re.search(rb"^(woundfhir|patient|wounds|visits|zone)\s*:", start, re.MULTILINE | re.IGNORECASE):
        return "record-yaml"
    return "unknown"


def _json(start: bytes) -> str:
    lines = start.split(b"\n", 2)
    first = lines[0].rstrip()
    if len(lines) > 1 and first.endswith(b"}") and lines[1].lstrip()[:1] == b"{":
        return "ndjson"
    return "fhir-json" if re.search(rb'"resourceType"\s*:', start) and b'"woundfhir"' not in start[:200] else "record-json"
