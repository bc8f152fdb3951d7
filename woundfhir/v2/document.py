"""MDM^T02: a document of FHIR in the wrapper of an HL7 v2 message, both ways; the library ``hl7`` escapes and parts.

What is in the document stands in OBX-5 as it is (ED, Base64). What v2 receivers sort by stands around it: the client
(PID), what document it is (TXA), when, and by whom. Fields and tables: HL7 v2.5.1 as HL7's v2-to-FHIR mappings name
them (table 0270: TS transfer summary; 0271: DO documented; 0273: AV available; 0191 and 0299 from memory).
"""

from __future__ import annotations

import re
from base64 import b64decode, b64encode
from binascii import Error as Base64Error
from collections.abc import Mapping
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir.elements import first
from woundfhir.fhir.resources.people import human_name
from woundfhir.r4.origin import Source
from woundfhir.v2.datatypes import SYSTEMS
from woundfhir.v2.message import Segment, header_fields, messages
from woundfhir.v2.people import GENDERS, client

Json = Any
_ENCODED = "Base64"
_SUBTYPE = "fhir+json"
_UTF8 = "UNICODE UTF-8"
#: Where a message says that its document holds no longer (tables 0273, from memory, and 0085, as ``v2.read`` has it).
_WITHDRAWN = (("TXA", 19, ("CA", "OB")), ("OBX", 11, ("D", "W", "X")))
_FIX = "Ask the sender for a document of FHIR in JSON, in OBX-5 (ED, Base64)"


def is_document(content: bytes) -> bool:
    """Whether a file of HL7 v2 is a message that carries a document.

    Examples
    --------
    >>> is_document(b"MSH|^~\\\\&|A|B|||20260302||MDM^T02^MDM_T02|1|P|2.5.1")
    True
    """
    fields = header_fields(content.lstrip(b"\x0b"))
    return len(fields) > 8 and fields[8].startswith(b"MDM")


def wrapped(document: Mapping[str, Json], content: bytes) -> bytes:
    """Return a document Bundle, as the bytes ``content``, in a message MDM^T02.

    Raises
    ------
    InputError
        For what is no document.
    """
    import hl7

    if document.get("type") != "document":
        raise InputError("--as", "a document, for HL7 v2 (MDM^T02)", "Leave --as out, or choose fhir-json")
    resources = [entry["resource"] for entry in document["entry"]]
    head = resources[0]
    known: Json = next((one for one in resources if one["resourceType"] == "Patient"), {})
    plain = hl7.parse("MSH|^~\\&|\r")

    def text(value: Json) -> str:
        lines = str("" if value is None else value).splitlines()
        return "\\.br\\".join(str(plain.escape(line)) for line in lines)

    at = digits(document["timestamp"])
    coding = first((head.get("type") or {}).get("coding"))
    names = {uri: name for name, uri in SYSTEMS.items()}
    kind = "^".join((text(coding.get("code")), text(coding.get("display")), names.get(str(coding.get("system")), "")))
    number = text(document["identifier"]["value"].removeprefix("urn:uuid:"))
    author = text(_author(document, head))
    data = "^".join(("woundfhir", "Application", _SUBTYPE, _ENCODED, b64encode(content).decode()))
    born, sex = digits(known.get("birthDate") or ""), _sex(known)
    numbered: dict[str, dict[int, str]] = {
        "MSH": {2: "^~\\&", 3: "woundfhir", 7: at, 9: "MDM^T02^MDM_T02", 10: number, 11: "P", 12: "2.5.1", 18: _UTF8},
        "EVN": {2: at},
        "PID": {1: "1", 3: _identifiers(known, text), 5: _name(known, text), 7: born, 8: sex},
        "PV1": {1: "1", 2: "N"},
        "TXA": {1: "1", 2: "TS", 3: "AP", 6: at, 9: f"^{author}" if author else "", 12: number, 17: "DO", 19: "AV"},
        "OBX": {1: "1", 2: "ED", 3: kind, 5: data, 11: "F"},
    }  # fmt: skip
    return "".join(f"{_segment(name, fields)}\r" for name, fields in numbered.items()).encode()


def _segment(name: str, fields: Mapping[int, str]) -> str:
    """One segment; of MSH the first field is the delimiter itself."""
    start = 2 if name == "MSH" else 1
    return "|".join([name, *(fields.get(number, "") for number in range(start, max(fields) + 1))])


def _author(document: Mapping[str, Json], head: Mapping[str, Json]) -> str | None:
    """The name of whoever wrote the document, where it is known."""
    by_url: dict[str, Json] = {str(entry.get("fullUrl")): entry["resource"] for entry in document["entry"]}
    named = first(head.get("author"))
    found: Json = by_url.get(str(named.get("reference")), {})
    person: Json = by_url.get(str((found.get("practitioner") or {}).get("reference")), found)
    return human_name(first(person.get("name")) if isinstance(person.get("name"), list) else {}) or named.get("display")


def _identifiers(known: Mapping[str, Json], text: Any) -> str:
    made = []
    for one in known.get("identifier", ()):
        system = str(one.get("system", ""))
        kinds = (("urn:oid:", "ISO"), ("urn:uuid:", "UUID"), ("", "URI"))
        prefix, name = next((prefix, name) for prefix, name in kinds if system.startswith(prefix))
        authority = f"&{text(system.removeprefix(prefix))}&{name}" if system else ""
        made.append(f"{text(one.get('value'))}^^^{authority}")
    return "~".join(made)


def _name(known: Mapping[str, Json], text: Any) -> str:
    name = first(known.get("name"))
    given = name.get("given") or []
    if not given and "family" not in name:
        return str(text(name.get("text")))
    return "^".join((text(name.get("family")), text(given[0] if given else None), text(" ".join(given[1:]))))


def _sex(known: Mapping[str, Json]) -> str:
    return next((code for code, word in GENDERS.items() if word == known.get("gender")), "")


def digits(time: str) -> str:
    """Return a date or an instant of FHIR as a DTM.

    Examples
    --------
    >>> digits("2026-03-02T10:05:00-05:00"), digits("1948-03"), digits("2026-03-02T15:05:00Z")
    ('20260302100500-0500', '194803', '20260302150500+0000')
    """
    day, _, clock = time.partition("T")
    found = re.fullmatch(r"([\d:]+)(?:\.\d+)?(Z|[+-][\d:]+)?", clock)
    zone = (found[2] or "").replace("Z", "+0000") if found else ""
    return day.replace("-", "") + (found[1] + zone if found else "").replace(":", "")


def unwrapped(content: bytes) -> tuple[bytes, Json]:
    """Return the document in a message MDM^T02, and the client whom its PID names, as a Patient.

    Raises
    ------
    InputError
        For other messages, one for testing, none or several clients, and a document in another form.
    """
    source = Source()
    found = messages(content, source)
    if len(found) != 1:
        raise InputError("HL7 v2", "one message with a document", "Write each message to a file of its own")
    head, *rest = found[0]
    kind, event, mode = (one and one.value for one in (head.get(9, 1), head.get(9, 2), head.get(11, 1)))
    if (kind, event) != ("MDM", "T02"):
        raise InputError("MSH-9", "MDM^T02: a new document with its content", "Other events carry no history")
    if mode not in (None, "P"):
        raise InputError("MSH-11", "P: a message that is not for testing", "Ask the sender for the real one")
    pids = [one for one in rest if one.name == "PID"]
    if len(pids) != 1:
        raise InputError("PID", "one client", "Ask the sender for a message about one client")
    sender = head.get(4) or head.get(3)
    _stands(rest)
    return _document(rest), client(source, pids[0], sender.value if sender else "")


def _stands(segments: list[Segment]) -> None:
    """Refuse a document that the message calls deleted, wrong or obsolete."""
    for name, field, withdrawn in _WITHDRAWN:
        for one in segments:
            said = one.get(field) if one.name == name else None
            if said is not None and said.value.upper() in withdrawn:
                wrong = "it is deleted, wrong, or obsolete"
                fix = "Nothing was read. Ask the sender for the document that holds now"
                raise InputError(f"{name}-{field}", "a document that holds", fix, found=wrong)


def _document(segments: list[Segment]) -> bytes:
    held = [one for one in segments if one.name == "OBX" and (said := one.get(2)) is not None and said.value == "ED"]
    if len(held) != 1:
        raise InputError("OBX", "one document, in OBX-5 (ED)", _FIX)
    encoding, data = held[0].get(5, 4), held[0].get(5, 5)
    if encoding is None or data is None or encoding.value.upper() != "BASE64":
        raise InputError("OBX-5", "a document in Base64", _FIX)
    try:
        return b64decode(re.sub(r"\s", "", str(data.value)), validate=True)
    except (Base64Error, ValueError):
        raise InputError("OBX-5", "a document in Base64", _FIX) from None
