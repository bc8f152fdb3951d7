"""How the service and its workers speak: a head in JSON and a body of bytes, each with its length before it."""

from __future__ import annotations

import json
import struct
from typing import Any, BinaryIO

Json = Any
LENGTHS = struct.Struct(">II")


def packed(head: Json, body: bytes = b"") -> bytes:
    """Return one message as bytes.

    Examples
    --------
    >>> from io import BytesIO
    >>> unpacked(BytesIO(packed({"job": "convert"}, b"abc")))
    ({'job': 'convert'}, b'abc')
    """
    said = json.dumps(head).encode()
    return LENGTHS.pack(len(said), len(body)) + said + body


def unpacked(stream: BinaryIO) -> tuple[Json, bytes] | None:
    """Return the next message; None where the other side has gone."""
    lengths = stream.read(LENGTHS.size)
    if len(lengths) < LENGTHS.size:
        return None
    head, body = LENGTHS.unpack(lengths)
    said, content = stream.read(head), stream.read(body)
    return (json.loads(said), content) if len(content) == body else None
