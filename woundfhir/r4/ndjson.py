"""NDJSON, one resource a line, as HL7's bulk data uses it (application/fhir+ndjson): read line by line, never whole."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from typing import Any, BinaryIO

import msgspec

from woundfhir.errors import InputError
from woundfhir.limits import LINE_LIMIT, readable_size
from woundfhir.r4 import jsonio

Json = Any


class _Typed(msgspec.Struct):
    resourceType: str


_decode_type = msgspec.json.Decoder(_Typed).decode


def type_of(line: bytes) -> str:
    """Return the type of the resource in a line; nothing else of it is decoded.

    Raises
    ------
    msgspec.DecodeError
        For what is no JSON object with a ``resourceType``.

    Examples
    --------
    >>> type_of(b'{"resourceType":"Patient","id":"a"}')
    'Patient'
    """
    return _decode_type(line).resourceType


def lines(source: bytes | BinaryIO, limit: int = LINE_LIMIT) -> Iterator[tuple[int, bytes]]:
    """Yield number (from 1) and bytes of each line that is not blank, without its line end.

    Parameters
    ----------
    source
        Bytes, or a binary stream with ``readline(size)``; nothing of it is held but the line at hand.
    limit
        The longest line, in bytes.

    Raises
    ------
    InputError
        With the number of a line that is too long, before it is read whole.

    Examples
    --------
    >>> list(lines(b'{"a":1}\\n\\n{"b":2}'))
    [(1, b'{"a":1}'), (3, b'{"b":2}')]
    """
    stream = io.BytesIO(source) if isinstance(source, bytes) else source
    number = 0
    while line := stream.readline(limit + 2):  # room for the line end
        number += 1
        if number == 1:
            line = line.removeprefix(b"\xef\xbb\xbf")
        line = line.removesuffix(b"\n")
        if len(line) > limit:
            raise InputError(f"line {number}", f"at most {readable_size(limit)} a line", "Write one resource a line")
        if line.strip():
            yield number, line


def read(
    source: bytes | BinaryIO, limit: int = LINE_LIMIT, *, checked: bool = True, typed: bool = True
) -> Iterator[dict[str, Json]]:
    """Yield one resource after the other.

    Parameters
    ----------
    source, limit
        As for ``lines``.
    checked
        False for what was checked before: see ``jsonio.decode``.
    typed
        False for a reader that sets objects aside that do not say what they are: they are yielded as well.

    Raises
    ------
    InputError
        With the number of the line.

    Examples
    --------
    >>> [r["resourceType"] for r in read(b'{"resourceType":"Patient"}\\n\\n')]
    ['Patient']
    """
    whole = jsonio.decode_lines(source, limit) if isinstance(source, bytes) else None
    if whole is not None and all(not typed or isinstance(one.get("resourceType"), str) for one in whole):
        yield from whole
        return
    decode = jsonio.decode_checked if checked else jsonio.decode
    for number, line in lines(source, limit):
        try:
            found = decode(line)
        except InputError as error:
            where = error.where.removeprefix("line 1, ").removeprefix("line 1")
            place = f"line {number}, {where}" if where else f"line {number}"
            raise InputError(place, error.expected, error.fix) from None
        if typed and not isinstance(found.get("resourceType"), str):
            raise InputError(f"line {number}", "a FHIR resource with its resourceType", "Write one resource a line")
        yield found


def write(resources: Iterable[Json]) -> bytes:
    """Return resources as NDJSON: one a line, each with a line end.

    Examples
    --------
    >>> write([{"resourceType": "Patient"}])
    b'{"resourceType":"Patient"}\\n'
    """
    return jsonio.encode_lines(list(resources))
