"""Whose a resource is, by what its line says of it alone: the names of its client, or that it names none.

One function decides this for an index on the disk (``grouping``) and for a cluster. Names of a client are references to
a Patient, and the numbers of one.
"""

from __future__ import annotations

import re
from typing import Any, NamedTuple

import msgspec

from woundfhir.errors import InputError
from woundfhir.intake.file_groups import unescaped
from woundfhir.intake.parting import SHARED
from woundfhir.r4 import jsonio
from woundfhir.record.clients import REFERENCE

Json = Any
_PATIENT = re.compile(r"Patient/([A-Za-z0-9\-.]{1,64})(?:/_history/.*)?")
#: A Reference by an identifier or to an entry of a Bundle, and a resource inside another: read as a whole.
_LOGICAL = re.compile(rb'"identifier"\s*:\s*\{|"contained"\s*:|"reference"\s*:\s*"urn:')
_NO_FACTS = frozenset(("Bundle", "Parameters", "OperationOutcome", "Group", "List", "Composition", "Linkage"))


class NotPlain(Exception):
    """The input names clients in another way than by references to Patients."""


class Unreadable(Exception):
    """A line that holds no resource; its text is the reason."""


class _Ref(msgspec.Struct):
    reference: str | msgspec.UnsetType = msgspec.UNSET


class _Identifier(msgspec.Struct):
    system: str | None = None
    value: str | None = None


class _Head(msgspec.Struct):
    """What of a resource says whose it is."""

    resourceType: str
    id: str | msgspec.UnsetType = msgspec.UNSET
    subject: _Ref | msgspec.UnsetType = msgspec.UNSET
    patient: _Ref | msgspec.UnsetType = msgspec.UNSET
    beneficiary: _Ref | msgspec.UnsetType = msgspec.UNSET
    for_: _Ref | msgspec.UnsetType = msgspec.field(name="for", default=msgspec.UNSET)
    source: Json = None


class _Numbers(msgspec.Struct):
    identifier: list[_Identifier] = []


_head = msgspec.json.Decoder(_Head).decode
_numbers = msgspec.json.Decoder(_Numbers).decode


class Whose(NamedTuple):
    """What a line says of whose its resource is.

    Parameters
    ----------
    name
        Type and id of the resource; None without an id.
    clients
        Names of its client: all of them are of one.
    shared
        Whether it is everybody's: of a type that is about no client, and naming none.
    """

    name: str | None
    clients: frozenset[str]
    shared: bool


def whose(text: bytes) -> Whose:
    """Return whose a resource is.

    Raises
    ------
    Unreadable
        For what is no resource.
    NotPlain
        Where it names its client in another way than by a reference to a Patient.

    Examples
    --------
    >>> whose(b'{"resourceType":"Observation","id":"a","subject":{"reference":"Patient/7"}}')
    Whose(name='Observation/a', clients=frozenset({'Patient/7'}), shared=False)
    >>> whose(b'{"resourceType":"Practitioner"}')
    Whose(name=None, clients=frozenset(), shared=True)
    """
    head = _read(text)
    kind = head.resourceType
    if kind in _NO_FACTS or _LOGICAL.search(plain(text)) or (kind == "QuestionnaireResponse" and head.source):
        raise NotPlain
    name = f"{kind}/{head.id}" if isinstance(head.id, str) else None
    if kind == "Patient":
        return Whose(name, _names_of_patient(head, text), False)
    refs = [ref for ref in (head.subject, head.patient, head.beneficiary, head.for_) if isinstance(ref, _Ref)]
    literal = [_PATIENT.fullmatch(ref.reference) if isinstance(ref.reference, str) else None for ref in refs]
    if None in literal:
        raise NotPlain
    clients = frozenset(f"Patient/{one[1]}" for one in literal if one is not None)
    return Whose(name, clients, not refs and kind in SHARED)


def _read(text: bytes) -> _Head:
    try:
        return _head(text)
    except msgspec.ValidationError:
        if _is_resource(text):
            raise NotPlain from None  # of another structure: its reader says what is wrong
        raise Unreadable("no FHIR resource with its resourceType") from None
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        try:
            jsonio.decode_checked(text.strip())
            reason = "no JSON that can be read"
        except InputError as error:
            reason = str(error)
        raise Unreadable(reason) from None


def _names_of_patient(head: _Head, text: bytes) -> frozenset[str]:
    if not isinstance(head.id, str):
        raise NotPlain
    try:
        numbers = _numbers(text).identifier
    except msgspec.ValidationError:
        raise NotPlain from None
    named = {f"{one.system}|{one.value}" for one in numbers if one.value}
    named |= {str(one.value) for one in numbers if one.system == REFERENCE and one.value}
    return frozenset((f"Patient/{head.id}", *named))


def plain(text: bytes) -> bytes:
    """Return a line in which nothing is escaped that need not be."""
    try:
        return unescaped(text)
    except (msgspec.DecodeError, UnicodeError, RecursionError):
        raise NotPlain from None  # its reader says what is wrong


def _is_resource(text: bytes) -> bool:
    try:
        found = msgspec.json.decode(text)
    except msgspec.DecodeError:
        return False
    return isinstance(found, dict) and isinstance(found.get("resourceType"), str)
