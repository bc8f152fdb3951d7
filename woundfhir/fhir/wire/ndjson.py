"""Newline-delimited JSON, one resource a line, as FHIR bulk data uses it."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Mapping
from typing import IO, Any

from woundfhir.errors import InputError
from woundfhir.fhir.wire import jsonio

Json = Any
_LINE = 20 * 1024 * 1024


def read(source: bytes | IO[bytes], limit: int = _LINE) -> Iterator[dict[str, Json]]:
    """Yield one resource after the other, without holding the rest.

    Parameters
    ----------
    source
        Bytes, or a binary stream.
    limit
        The longest line that is read, in bytes.

    Raises
    ------
    InputError
        With the number of the line.

    Examples
    --------
    >>> [r["resourceType"] for r in read(b'{"resourceType":"Patient"}\\n\\n')]
    ['Patient']
    """
    stream = io.BytesIO(source) if isinstance(source, bytes) else source
    number = 0
    while line := stream.readline(limit + 1):
        number += 1
        if len(line) > limit:
            raise InputError(f"line {number}", f"at most {limit // 1024 // 1024} MB a line", "One resource a line")
        if not line.strip():
            continue
        try:
            found = jsonio.decode_checked(line)
        except InputError as error:
            raise error.at(f"line {number}") from None
        if not isinstance(found, dict) or "resourceType" not in found:
            raise InputError(f"line {number}", "a FHIR resource", "One resource a line, each with its resourceType")
        yield found


def write(resources: Iterable[Mapping[str, Json]]) -> bytes:
    """Return resources as NDJSON.

    Examples
    --------
    >>> write([{"resourceType": "Patient"}])
    b'{"resourceType":"Patient"}\\n'
    """
    return b"".join(jsonio.encode(resource) + b"\n" for resource in resources)
