"""Ids that follow from business identifiers: UUID version 5 (RFC 9562), so that the same input gives the same ids."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from hashlib import sha1, sha256
from uuid import UUID

from woundfhir.limits import ID_LENGTH
from woundfhir.record.canonical import as_json

#: Namespace of all ids that this toolkit makes: version 5 of the project's own name in the URL namespace.
NAMESPACE = UUID("2e6d6d5e-6666-59c1-9e19-50cf8d02d579")


def uuid5(namespace: bytes, name: str) -> str:
    """Return the version 5 UUID of a name, as text.

    The same as ``uuid.uuid5`` and held against it by a test; written out because ids are made for every resource.

    Examples
    --------
    >>> from uuid import NAMESPACE_URL
    >>> from uuid import uuid5 as standard
    >>> uuid5(NAMESPACE_URL.bytes, "a") == str(standard(NAMESPACE_URL, "a"))
    True
    """
    return _version_5(sha1(namespace + name.encode(), usedforsecurity=False).hexdigest())


def uuid5_below(namespace: bytes, start: str) -> Callable[[str], str]:
    """Return a function that gives the version 5 UUIDs of names with one start, which is hashed once.

    Examples
    --------
    >>> uuid5_below(NAMESPACE.bytes, "a")("b") == uuid5(NAMESPACE.bytes, "ab")
    True
    """
    begun = sha1(namespace + start.encode(), usedforsecurity=False).copy

    def name(rest: str) -> str:
        found = begun()
        found.update(rest.encode())
        return _version_5(found.hexdigest())

    return name


def uuid5_of(namespace: bytes, parts: Iterable[bytes | memoryview]) -> str:
    """Return the version 5 UUID of a name that is given in parts, so that a long one need not stand in memory.

    Examples
    --------
    >>> uuid5_of(NAMESPACE.bytes, [b"a", b"b"]) == uuid5(NAMESPACE.bytes, "ab")
    True
    """
    found = sha1(namespace, usedforsecurity=False)
    for part in parts:
        found.update(part)
    return _version_5(found.hexdigest())


def _version_5(text: str) -> str:
    """Return the digits of a SHA-1 as the text of a UUID of version 5."""
    return f"{text[:8]}-{text[8:12]}-5{text[13:16]}-{_VARIANT[text[16]]}{text[17:20]}-{text[20:32]}"


#: RFC 9562: the two highest bits of this digit say the variant.
_VARIANT = {digit: "89ab"[int(digit, 16) & 3] for digit in "0123456789abcdef"}


def shortened(name: str) -> str:
    """Return the name of a wound or a visit of others as an id of the record: a long one as its start and a digest.

    Examples
    --------
    >>> shortened("W1"), len(shortened("w" * 300)), shortened("w" * 300) == shortened("w" * 301)
    ('W1', 117, False)
    """
    if len(name) <= ID_LENGTH:
        return name
    return f"{name[: ID_LENGTH // 2]} {sha256(name.encode('utf-8', 'replace')).hexdigest()[:16]}"


def id_by_content(resource: Mapping[str, object]) -> str:
    """Return the id of a resource that came without one: the same wherever it stands, and in every run."""
    return uuid5(NAMESPACE.bytes, as_json(resource))


def digest(value: object) -> str:
    """Return twelve digits that follow from a value, to find out later whether it has changed.

    Examples
    --------
    >>> digest({"text": "left heel"}) == digest({"text": "left heel"}), len(digest("x"))
    (True, 12)
    """
    return sha256(as_json(value).encode()).hexdigest()[:12]


def escape(part: str) -> str:
    """Make an id safe as one part of a place.

    Examples
    --------
    >>> escape("V/7 50%")
    'V%2F7 50%25'
    """
    return part.replace("%", "%25").replace("/", "%2F") if "/" in part or "%" in part else part


def unescape(part: str) -> str:
    """Turn ``escape`` back."""
    return part.replace("%2F", "/").replace("%25", "%") if "%" in part else part
