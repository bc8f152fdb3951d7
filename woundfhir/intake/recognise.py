"""What a file is, by its content and never by its name.

Half a file, or one with a fault in it, is told by how it starts, so that its own reader can say where it breaks.
"""

from __future__ import annotations

import base64
import binascii
import json
import re
from typing import Literal

import msgspec

from woundfhir.r4.definitions import resource_types

Kind = Literal["fhir-json", "fhir-xml", "ndjson", "record-json", "record-yaml", "record-csv", "sealed", "unknown"]

_HEAD = 64 * 1024
_FHIR = b"http://hl7.org/fhir"
_top_keys = msgspec.json.Decoder(dict[str, msgspec.Raw]).decode  # skips the values: fast for any size
#: RFC 7515 and 7516: base64url parts with dots between; three are signed, five are encrypted.
_COMPACT = re.compile(rb"[A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]*){2}(?:(?:\.[A-Za-z0-9_-]*){2})?")
_BEFORE_ROOT = re.compile(rb"(?:\s+|<\?.*?\?>|<!--.*?-->|<!DOCTYPE[^\[>]*(?:\[.*?\]\s*)?>)*", re.DOTALL)
_ROOT = re.compile(rb"<(?:[\w.-]+:)?([\w.-]+)([^>]*)")
_COLUMN = re.compile(r"(?:^|,)\"?(?:woundfhir|(?:patient|wound|visit|assessment|care|plan)\.[\w. -]+)\"?(?:,|$)", re.I)
_YAML_KEY = re.compile(r"^(?:woundfhir|zone|patient|wounds|visits|extra)[ \t]*:(?:[ \t]|$)", re.MULTILINE | re.I)


def sniff(content: bytes) -> Kind:
    """Return what the bytes are.

    Parameters
    ----------
    content
        The whole of a file.

    Returns
    -------
    str
        ``fhir-json``, ``fhir-xml``, ``ndjson``; ``record-json``, ``record-yaml``, ``record-csv`` for the plain
        record; ``sealed`` for what is signed or encrypted (JOSE, compact or in JSON); ``unknown``.

    Examples
    --------
    >>> sniff(b'{"resourceType": "Patient"}'), sniff(b'{"woundfhir": 1}'), sniff(b"woundfhir: 1")
    ('fhir-json', 'record-json', 'record-yaml')
    >>> sniff(b"woundfhir,wound.id"), sniff(b'<Patient xmlns="http://hl7.org/fhir"/>'), sniff(b"GIF89a")
    ('record-csv', 'fhir-xml', 'unknown')
    """
    head = content[:_HEAD]
    if b"\0" in head:  # UTF-16 and UTF-32: told by what they would be, for the reader to refuse
        text = head.decode("utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-16-le", "ignore")
        return sniff(text.encode("utf-8", "ignore")) if "\0" not in text else "unknown"
    start = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    match start[:1]:
        case b"":
            return "unknown"
        case b"<":
            return _xml(start)
        case b"{":
            return _json(content.removeprefix(b"\xef\xbb\xbf").lstrip())
        case b"[":
            return "fhir-json" if b'"resourceType"' in head else "record-json"
    if _sealed(content):
        return "sealed"
    return _text(start.decode("utf-8", "replace"))


def _xml(start: bytes) -> Kind:
    root = _ROOT.match(start, _BEFORE_ROOT.match(start).end())  # type: ignore[union-attr]  # it always fits
    if root is None:
        return "unknown"
    named = root[1].decode("ascii", "replace") in resource_types()
    return "fhir-xml" if named or re.search(rb"""=\s*["']""" + _FHIR + rb"""["']""", root[2]) else "unknown"


def _json(content: bytes) -> Kind:
    first, _, rest = content.partition(b"\n")
    if first.rstrip().endswith(b"}") and rest[:_HEAD].lstrip()[:1] == b"{":
        return "ndjson"
    try:
        keys = set(_top_keys(content))
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        head = content[:_HEAD]
        return "fhir-json" if b'"resourceType"' in head and b'"woundfhir"' not in head else "record-json"
    if "woundfhir" in keys:
        return "record-json"
    if {"payload", "ciphertext"} & keys and {"signature", "signatures", "tag", "recipients"} & keys:
        return "sealed"
    return "fhir-json" if "resourceType" in keys else "record-json"


def _sealed(content: bytes) -> bool:
    if not _COMPACT.fullmatch(content.strip()):
        return False
    first = content.strip().partition(b".")[0]
    try:
        header = json.loads(base64.urlsafe_b64decode(first + b"=" * (-len(first) % 4)))
    except (binascii.Error, ValueError):
        return False
    return isinstance(header, dict) and "alg" in header


def _text(start: str) -> Kind:
    if _YAML_KEY.search(start):
        return "record-yaml"
    return "record-csv" if _COLUMN.search(start.split("\n", 1)[0].strip()) else "unknown"
