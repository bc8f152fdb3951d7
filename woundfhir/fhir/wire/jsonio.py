"""FHIR and record JSON, exact: 4.10 comes in as Decimal("4.10") and goes out as 4.10.

Two readers: ``decode`` for the hot path, and ``decode_checked`` for files, which also refuses a key that
stands twice (RFC 8259 leaves its meaning open; FHIR forbids it) and says where a broken file breaks.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import msgspec

from woundfhir.errors import InputError

Json = Any
_DEEPEST = 200

encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode


class _Twice(Exception):
    """A key stands twice."""


def _pairs(pairs: list[tuple[str, Json]]) -> dict[str, Json]:
    found = dict(pairs)
    if len(found) != len(pairs):
        seen: set[str] = set()
        for key, _ in pairs:
            if key in seen:
                raise _Twice(key)
            seen.add(key)
    return found


def _no_constant(name: str) -> Json:
    raise ValueError(name)


def to_text(content: bytes) -> str:
    """Return UTF-8 bytes as text.

    Raises
    ------
    InputError
        For another encoding: says which byte, and names UTF-16 where its mark stands.
    """
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise InputError("byte 0", "text in UTF-8 (this is UTF-16)", "Save the file as UTF-8")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"byte {error.start}", "text in UTF-8", "Save the file as UTF-8") from None


def decode_checked(content: bytes) -> Json:
    """Read one JSON text from a file.

    Parameters
    ----------
    content
        UTF-8 bytes, with or without a byte order mark.

    Returns
    -------
    The decoded value; every number with a fraction or an exponent as ``Decimal``.

    Raises
    ------
    InputError
        With line and column: another encoding, half a JSON, a key twice, NaN, nesting deeper than 200.

    Examples
    --------
    >>> decode_checked(b'{"value": 4.10}')
    {'value': Decimal('4.10')}
    >>> try: decode_checked(b'{"a": 1, "a": 2}')
    ... except InputError as error: print(error)
    key 'a': each key once in a set. Remove one of the two
    """
    text = to_text(content)
    try:
        found = json.loads(text, parse_float=Decimal, parse_constant=_no_constant, object_pairs_hook=_pairs)
    except _Twice as error:
        raise InputError(f"key {str(error)[:60]!r}", "each key once in a set", "Remove one of the two") from None
    except json.JSONDecodeError as error:
        raise InputError(
            f"line {error.lineno}, column {error.colno}", "whole JSON", "Look for a missing bracket, comma or quote there"
        ) from None
    except ValueError:
        raise InputError("a number", "a number that JSON knows (no NaN, no Infinity)", "Leave it out or give a reason") from None
    except RecursionError:
        raise InputError("nesting", f"at most {_DEEPEST} levels", "Take out the nested lists") from None
    if _deep(text):
        raise InputError("nesting", f"at most {_DEEPEST} levels", "Take out the nested lists")
    return found


def _deep(text: str) -> bool:
    """Whether brackets (outside strings) nest deeper than allowed."""
    depth = 0
    for mark in re.findall(r'"(?:[^"\\]|\\.)*"|[\[\]{}]', text):
        if mark in "[{":
            depth += 1
            if depth > _DEEPEST:
                return True
        elif mark in "]}":
            depth -= 1
    return False


def encode_readable(value: Mapping[str, Json]) -> bytes:
    """Return JSON indented by two spaces with a line end, numbers exact.

    Examples
    --------
    >>> encode_readable({"value": Decimal("4.10")})
    b'{\\n  "value": 4.10\\n}\\n'
    """
    return msgspec.json.format(encode(value), indent=2) + b"\n"
