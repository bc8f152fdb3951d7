"""A first look at a file: what it is, by its content and never by its name.

Half a file, or one with a fault in it, is recognised by how it starts, so that its own reader can say where it breaks.
Each question is asked by one format of ``formats.py``.
"""

from __future__ import annotations

import base64
import binascii
import json
import re
from functools import cached_property

import msgspec

from woundfhir.r4.definitions import resource_types

#: So many bytes of a file are looked at.
HEAD = 65536
_FHIR = b"http://hl7.org/fhir"
_top_keys = msgspec.json.Decoder(dict[str, msgspec.Raw]).decode  # skips the values: fast for any size
#: RFC 7515 and 7516: base64url parts with dots between; three are signed, five are encrypted.
_COMPACT = re.compile(rb"[A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]*){2}(?:(?:\.[A-Za-z0-9_-]*){2})?")
_BEFORE_ROOT = re.compile(rb"(?:\s+|<\?.*?\?>|<!--.*?-->|<!DOCTYPE[^\[>]*(?:\[.*?\]\s*)?>)*", re.DOTALL)
#: A segment that begins a message or a batch, and the separator of its fields.
_V2 = re.compile(rb"(?:MSH|FHS|BHS)[^0-9A-Za-z]")
_ROOT = re.compile(rb"<(?:[\w.-]+:)?([\w.-]+)([^>]*)")
_COLUMN = re.compile(
    r"(?:^|[,;\t])\"? *(?:woundfhir|(?:patient|wound|visit|assessment|care|plan)\.[\w. -]+) *\"?(?:[,;\t]|$)", re.I
)
_RECORD_KEYS = ("woundfhir", "zone", "patient", "wounds", "visits", "extra")
_YAML_KEY = re.compile(rf"^(?:{'|'.join(_RECORD_KEYS)})[ \t]*:(?:[ \t]|$)", re.MULTILINE | re.I)


class FirstLook:
    """What the bytes of one file show at a first look; each part is worked out when it is first asked for.

    Parameters
    ----------
    content
        The whole of a file.

    Examples
    --------
    >>> FirstLook(b'{"resourceType": "Patient"}').fhir_json, FirstLook(b"woundfhir: 1").yaml
    (True, True)
    """

    def __init__(self, content: bytes) -> None:
        #: The bytes as they are, for a format that is no text.
        self.raw = content
        #: The bytes as UTF-8 without mark and leading blanks; empty for what is no text.
        self.content = _as_utf8(content).removeprefix(b"\xef\xbb\xbf").lstrip()
        self.head = self.content[:HEAD]

    # -- JSON ----------------------------------------------------------------------------------

    @property
    def json(self) -> bool:
        """Whether it starts as JSON does."""
        return self.head[:1] in (b"{", b"[")

    @property
    def other_json(self) -> bool:
        """Whether it is JSON whose keys (of a list, or with a fault: whose text) name neither a record nor FHIR."""
        wanted = (*_RECORD_KEYS, "resourceType")
        if self.keys is not None:
            return self.keys.isdisjoint(wanted) and not self.sealed
        return self.json and not any(f'"{key}"'.encode() in self.head for key in wanted)

    @property
    def ndjson(self) -> bool:
        """Whether it is one JSON object a line, several of them."""
        first, _, rest = self.content.partition(b"\n")
        return first[:1] == b"{" and first.rstrip().endswith(b"}") and rest[:HEAD].lstrip()[:1] == b"{"

    @property
    def record_ndjson(self) -> bool:
        """Whether it is one JSON object a line, with a record among the first of them."""
        if not self.ndjson or b'"woundfhir"' not in self.head:
            return False
        for line in self.head.split(b"\n"):
            try:
                keys = _top_keys(line)
            except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
                continue
            if "woundfhir" in keys and "resourceType" not in keys:
                return True
        return False

    @cached_property
    def keys(self) -> frozenset[str] | None:
        """The keys of the one JSON object that the file is; None for anything else, and for a broken one."""
        try:
            return frozenset(_top_keys(self.content))
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
            return None

    @property
    def fhir_json(self) -> bool:
        """Whether it is a FHIR resource, or a list of them, in JSON."""
        if self.keys is not None:
            return "resourceType" in self.keys and "woundfhir" not in self.keys
        named = b'"resourceType"' in self.head
        return self.json and named and (self.head[:1] == b"[" or b'"woundfhir"' not in self.head)

    # -- what is signed or encrypted -----------------------------------------------------------

    @property
    def sealed(self) -> bool:
        """Whether it is signed or encrypted (JOSE), compact or in JSON."""
        keys = self.keys
        if keys is not None:
            return bool({"payload", "ciphertext"} & keys and {"signature", "signatures", "tag", "recipients"} & keys)
        if not _COMPACT.fullmatch(self.content.strip()):
            return False
        first = self.content.partition(b".")[0]
        try:
            header = json.loads(base64.urlsafe_b64decode(first + b"=" * (-len(first) % 4)))
        except (binascii.Error, ValueError):
            return False
        return isinstance(header, dict) and "alg" in header

    # -- XML and text --------------------------------------------------------------------------

    @property
    def fhir_xml(self) -> bool:
        """Whether its first element is a FHIR resource."""
        root = self._root
        if root is None:
            return False
        named = root[1].decode("ascii", "replace") in resource_types()
        return named or re.search(rb"""=\s*["']""" + _FHIR + rb"""["']""", root[2]) is not None

    @property
    def cda(self) -> bool:
        """Whether its first element is that of a CDA document."""
        return self._root is not None and self._root[1] == b"ClinicalDocument"

    @cached_property
    def _root(self) -> re.Match[bytes] | None:
        """The tag of its first element; None for what is no XML."""
        return _ROOT.match(self.head, _BEFORE_ROOT.match(self.head).end())  # type: ignore[union-attr]  # it always fits

    @property
    def v2(self) -> bool:
        """Whether it starts with the first segment of an HL7 v2 message or batch."""
        return _V2.match(self.head.lstrip(b"\x0b")) is not None

    @property
    def yaml(self) -> bool:
        """Whether a line of it starts with a key of the record."""
        return not self.json and self.head[:1] != b"<" and _YAML_KEY.search(self._text) is not None

    @property
    def csv(self) -> bool:
        """Whether its first line names columns of the record."""
        return self.head[:1] != b"<" and _COLUMN.search(self._text.split("\n", 1)[0].strip()) is not None

    @property
    def table(self) -> bool:
        """Whether it is a workbook, or lines with as many cells each."""
        from woundfhir.tables.recognise import is_table

        return self.head[:1] not in (b"<", b"{", b"[") and is_table(self.raw)

    @cached_property
    def _text(self) -> str:
        return self.head.decode("utf-8", "replace")


def _as_utf8(content: bytes) -> bytes:
    """Return UTF-16 as UTF-8, so that its own reader can refuse it; nothing for what is no text at all."""
    head = content[:HEAD]
    if b"\0" not in head:
        return content
    text = head.decode("utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-16-le", "ignore")
    return b"" if "\0" in text else text.encode("utf-8", "ignore")
