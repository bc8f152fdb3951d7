"""Media types of requests and answers, and the file formats that they mean."""

from __future__ import annotations

from collections.abc import Sequence

from woundfhir.web.guard import Refused

#: Content-Type -> the names of the formats that such a body may hold.
READ: dict[str, tuple[str, ...]] = {
    "application/fhir+json": ("fhir-json",),
    "application/fhir+xml": ("fhir-xml",),
    "application/fhir+ndjson": ("ndjson", "fhir-json"),
    "application/json": ("record-json", "fhir-json"),
    "application/x-ndjson": ("record-ndjson", "ndjson", "record-json", "fhir-json"),
    "application/xml": ("fhir-xml", "cda"),
    "text/xml": ("fhir-xml", "cda"),
    "application/yaml": ("record", "record-json"),
    "text/csv": ("csv", "table"),
    "application/hl7-v2": ("hl7-v2",),
}
#: Accept -> the name of the format that is written; the first of FHIR and the first of the record are the defaults.
WRITTEN: dict[str, str] = {
    "application/fhir+json": "fhir-json",
    "application/json": "record-json",
    "application/fhir+xml": "fhir-xml",
    "application/fhir+ndjson": "ndjson",
    "application/yaml": "record",
    "application/x-ndjson": "record-ndjson",
    "text/csv": "csv",
}
#: What an OperationOutcome may be asked for as.
OUTCOMES = ("application/fhir+json", "application/json")


def read_as(content_type: str | None, encoding: str | None) -> str:
    """Return the media type of a body; refuse what is not read.

    Parameters
    ----------
    content_type, encoding
        The headers Content-Type and Content-Encoding.

    Examples
    --------
    >>> read_as("application/fhir+json; charset=UTF-8", None)
    'application/fhir+json'
    """
    if encoding not in (None, "", "identity"):
        raise Refused(415, "the header Content-Encoding", "a body that is not compressed", "Send it as it is")
    kind, *parameters = (content_type or "").split(";")
    found = kind.strip().lower()
    if found not in READ:
        raise Refused(415, "the header Content-Type", f"one of {', '.join(READ)}", "Say what the body is")
    for one in parameters:
        name, _, value = one.partition("=")
        if name.strip().lower() == "charset" and value.strip().strip('"').lower() not in ("utf-8", "us-ascii"):
            raise Refused(415, "the header Content-Type", "the charset UTF-8", "Write the body in UTF-8")
    return found


def written_as(accept: str | None, offered: Sequence[str]) -> str:
    """Return the media type of the answer: that which is liked best, and of several the first offered (RFC 9110, 12.5).

    Examples
    --------
    >>> written_as("text/csv;q=0.5, application/fhir+xml", list(WRITTEN))
    'application/fhir+xml'
    >>> written_as("*/*", list(WRITTEN)), written_as(None, ["text/csv"])
    ('application/fhir+json', 'text/csv')
    """
    liked = _liked(accept or "*/*")
    best, weight = "", 0.0
    for kind in offered:
        whole, major = liked.get(kind), liked.get(f"{kind.partition('/')[0]}/*")
        own = next((one for one in (whole, major, liked.get("*/*")) if one is not None), 0.0)
        if own > weight:
            best, weight = kind, own
    if not best:
        raise Refused(406, "the header Accept", f"one of {', '.join(offered)}", "Ask for one of these")
    return best


def _liked(accept: str) -> dict[str, float]:
    found: dict[str, float] = {}
    for part in accept.split(","):
        kind, *parameters = part.split(";")
        weight = 1.0
        for one in parameters:
            name, _, value = one.partition("=")
            if name.strip().lower() == "q":
                try:
                    weight = min(max(float(value), 0.0), 1.0)
                except ValueError:
                    weight = 0.0
        found[kind.strip().lower()] = weight
    return found
