"""How much may come in: sizes and depths beyond which reading refuses, before it spends memory on it."""

from __future__ import annotations

from typing import BinaryIO

from woundfhir.errors import InputError

#: Largest input that is read whole, in bytes.
LIMIT = 200 * 1024 * 1024
#: Largest line of an NDJSON stream, in bytes.
LINE_LIMIT = 50 * 1024 * 1024
#: Deepest nesting of objects and lists in JSON. (Two for each element of XML that repeats.)
JSON_DEPTH = 200
#: Deepest nesting of elements in XML.
XML_DEPTH = 100


def read_whole(stream: BinaryIO, limit: int = LIMIT) -> bytes:
    """Read a binary stream to its end, and no further than the limit.

    Parameters
    ----------
    stream
        Anything with ``read(size)`` that returns bytes.
    limit
        In bytes.

    Raises
    ------
    InputError
        When there is more than the limit.

    Examples
    --------
    >>> import io
    >>> read_whole(io.BytesIO(b"abc"), limit=2)
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: input: expected at most 2 bytes. Split it, or send it as NDJSON in parts
    """
    parts: list[bytes] = []
    left = limit + 1
    while left > 0 and (part := stream.read(min(left, 1 << 20))):
        parts.append(part)
        left -= len(part)
    content = b"".join(parts)
    check_size(len(content), limit)
    return content


def check_size(size: int, limit: int, where: str = "input") -> None:
    """Refuse what is larger than the limit; both in bytes."""
    if size > limit:
        raise InputError(where, f"at most {readable_size(limit)}", "Split it, or send it as NDJSON in parts")


def readable_size(size: int) -> str:
    """Say a size in bytes as a person does.

    Examples
    --------
    >>> readable_size(LIMIT), readable_size(12)
    ('200 MB', '12 bytes')
    """
    return f"{size // 1024 // 1024} MB" if size >= 1024 * 1024 else f"{size} bytes"
