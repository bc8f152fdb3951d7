"""JSON, exact: 4.10 comes in as ``Decimal("4.10")`` and goes out as 4.10.

Two readers: ``decode`` for the hot path (msgspec alone), and ``decode_checked`` for files, which also refuses what
msgspec lets pass: a key that stands twice (RFC 8259 leaves its meaning open, so one of the two would be lost),
nesting without end, and too large an input. Both say where a broken text breaks, and never what stands there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any, BinaryIO, TypeVar

import msgspec

from woundfhir.errors import InputError
from woundfhir.limits import JSON_DEPTH, JSON_VALUES, LIMIT, LINE_LIMIT, check_size, read_whole
from woundfhir.r4.json_faults import HALF, NO_NUMBER, refusal, refuse_deep, refuse_twice
from woundfhir.r4.utf8 import to_text, wide_encoding

Json = Any
T = TypeVar("T")

_encoder = msgspec.json.Encoder(decimal_format="number")
_encode = _encoder.encode
_decoder = msgspec.json.Decoder(float_hook=Decimal)
_decode, _decode_lines = _decoder.decode, _decoder.decode_lines
#: Turns digits and points into zeros and all else into blanks; so many in a row may be a number that is too long.
_AS_DIGITS = bytes(48 if chr(byte) in "0123456789." else 32 for byte in range(256))
_MANY_DIGITS = b"0" * 21
_EXPONENT = re.compile(rb"[0-9]E[+-]")
_SURROGATE = re.compile("[\ud800-\udfff]")


def copied(value: T) -> T:
    """Return a copy of dicts and lists that share parts, in which nothing is shared.

    Examples
    --------
    >>> code = {"code": "cm"}
    >>> made = copied([code, code])
    >>> made, made[0] is made[1]
    ([{'code': 'cm'}, {'code': 'cm'}], False)
    """
    made: T = msgspec.to_builtins(value, builtin_types=(Decimal,))
    return made


# -- reading ---------------------------------------------------------------------------------------


def decode(content: bytes) -> dict[str, Json]:
    """Read one JSON object, fast and unchecked: for what we wrote ourselves, or what was checked before.

    Parameters
    ----------
    content
        UTF-8 bytes.

    Returns
    -------
    dict
        Numbers with a fraction or an exponent are ``Decimal``, others ``int``.

    Raises
    ------
    InputError
        With line and column, when it is no JSON object.

    Examples
    --------
    >>> decode(b'{"value": 4.10}')
    {'value': Decimal('4.10')}
    """
    return _object(_any(content))


def _any(content: bytes) -> Json:
    try:
        return _decode(content)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError, InvalidOperation) as error:
        raise refusal(content, error) from None


def _object(found: Json) -> dict[str, Json]:
    if type(found) is not dict:
        raise InputError("line 1", "one JSON object in braces", "One resource or one record a file")
    return found


def decode_checked(content: bytes, limit: int = LIMIT) -> dict[str, Json]:
    """Read one JSON object from a file.

    Parameters
    ----------
    content
        UTF-8 bytes, with or without a byte order mark.
    limit
        The largest content, in bytes.

    Raises
    ------
    InputError
        With line and column: another encoding, half a JSON, no object, a key twice, NaN, nesting deeper than 200
        levels, more than the limit.

    Examples
    --------
    >>> decode_checked(b'{"a": 1, "b": {"a": 1, "a": 2}}')
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: line 1, column 24 (b.a): expected each key once in an object. Remove one of the two
    """
    return _object(_checked(content, limit))


def decode_objects_checked(content: bytes, limit: int = LIMIT) -> list[dict[str, Json]]:
    """Read one JSON object from a file, or a list of them: resources in brackets, as many programs export them.

    Raises
    ------
    InputError
        As ``decode_checked`` does.

    Examples
    --------
    >>> decode_objects_checked(b'[{"a": 1}, {"b": 2}]'), decode_objects_checked(b'{"a": 1}')
    ([{'a': 1}, {'b': 2}], [{'a': 1}])
    """
    found = _checked(content, limit)
    if type(found) is list and found and all(type(one) is dict for one in found):
        return found
    return [_object(found)]


def _checked(content: bytes, limit: int) -> Json:
    check_size(len(content), limit)
    if wide_encoding(content):
        to_text(content)
    content = content.removeprefix(b"\xef\xbb\xbf")
    if len(content) > JSON_VALUES and content.count(b",") + content.count(b"[") + content.count(b"{") > JSON_VALUES:
        raise InputError("input", f"at most {JSON_VALUES:,} values", "Split it, or send it as NDJSON in parts")
    found = _any(content)
    if content.count(b"{") + content.count(b"[") > JSON_DEPTH:
        refuse_deep(found)
    if not _as_we_write(content, found):
        refuse_twice(content)
    return found


def decode_lines(content: bytes, limit: int) -> list[dict[str, Json]] | None:
    """Read lines of JSON objects at once, where they are to the byte what we write; None where one may be at fault.

    Examples
    --------
    >>> decode_lines(b'{"a":1}\\n{"b":2}\\n', 100), decode_lines(b'{"a":1,"a":1}\\n', 100)
    ([{'a': 1}, {'b': 2}], None)
    """
    lines = content.split(b"\n")
    if len(content) > LIMIT or max(map(len, lines)) > min(limit, JSON_VALUES) or _may_hold_long_number(content):
        return None
    try:
        found = _decode_lines(content)
        same = _encoder.encode_lines(found) == content
    except (msgspec.DecodeError, UnicodeError, RecursionError, InvalidOperation):
        return None
    if not same or any(line.count(b"{") + line.count(b"[") > JSON_DEPTH for line in lines):
        return None
    return found if all(type(one) is dict for one in found) else None


def decode_lines_unchecked(content: bytes) -> list[Json] | None:
    """Read lines of JSON at once, for who writes them again and compares; None where it is not so, or may be too much.

    Examples
    --------
    >>> decode_lines_unchecked(b'{"a":1}\\n'), decode_lines_unchecked(b'{"a":1')
    ([{'a': 1}], None)
    """
    if not content.endswith(b"\n") or len(content) > LINE_LIMIT:
        return None
    try:
        return _decode_lines(content)
    except (msgspec.DecodeError, UnicodeError, RecursionError, InvalidOperation):
        return None


def read(stream: BinaryIO, limit: int = LIMIT) -> dict[str, Json]:
    """Read one JSON object from a binary stream; what is larger than the limit (bytes) is not read to its end."""
    return decode_checked(read_whole(stream, limit), limit)


def _as_we_write(content: bytes, found: Json) -> bool:
    """Whether this is to the byte what we write of what was read from it, and holds no long number.

    A key that stood twice would be missing in what is written, and so a second pass has nothing to find. Most of what
    is read are files of ours.
    """
    content = content.rstrip(b"\n")
    if _may_hold_long_number(content):
        return False
    try:
        again = _encode(found)
    except UnicodeEncodeError:
        return False
    return (msgspec.json.format(again, indent=2) if b"\n" in content else again) == content


def _may_hold_long_number(content: bytes) -> bool:
    if _MANY_DIGITS in content.translate(_AS_DIGITS):
        return True
    return (b"E+" in content or b"E-" in content) and _EXPONENT.search(content) is not None


# -- writing ---------------------------------------------------------------------------------------


def encode(value: Json) -> bytes:
    """Return compact JSON in UTF-8; a ``Decimal`` is written as it stands.

    Raises
    ------
    InputError
        With the path, for what JSON cannot say: NaN, Infinity, half a surrogate pair.

    Examples
    --------
    >>> encode({"value": Decimal("4.10"), "other": Decimal("1E+2")})
    b'{"value":4.10,"other":1E+2}'
    """
    try:
        content = _encode(value)
    except UnicodeEncodeError:
        raise next(_unfit(value, "")) from None
    if _may_be_no_number(content):
        for error in _unfit(value, ""):
            raise error
    return content


def encode_lines(values: Sequence[Json], *, finite: bool = False) -> bytes:
    """Return each value as ``encode`` does, with a line end.

    ``finite`` says that no number in them is NaN or Infinity, so that nothing need be looked for; a text that JSON
    cannot say is then a ``UnicodeEncodeError``.
    """
    if finite:
        return _encoder.encode_lines(values)
    try:
        content = _encoder.encode_lines(values)
    except UnicodeEncodeError:
        content = b""
    if _may_be_no_number(content) or (values and not content):
        return b"".join(encode(value) + b"\n" for value in values)
    return content


def _may_be_no_number(content: bytes) -> bool:
    """Whether NaN or Infinity stands there, be it in a text: the single letters are found, or not, in no time."""
    return (b"N" in content and b"NaN" in content) or (b"I" in content and b"Infinity" in content)


def encode_readable(value: Json) -> bytes:
    """Return JSON indented by two spaces, with a line end; otherwise as ``encode``.

    Examples
    --------
    >>> encode_readable({"value": Decimal("4.10")})
    b'{\\n  "value": 4.10\\n}\\n'
    """
    return msgspec.json.format(encode(value), indent=2) + b"\n"


def _unfit(value: Json, path: str) -> Iterator[InputError]:
    """Yield an error for each leaf that JSON cannot say."""
    if isinstance(value, dict):
        for key, item in value.items():
            if _SURROGATE.search(str(key)):
                yield InputError(f"a key in {path or 'the object'}", *HALF)
            yield from _unfit(item, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list | tuple):
        for number, item in enumerate(value):
            yield from _unfit(item, f"{path}[{number}]")
    elif isinstance(value, Decimal) and not value.is_finite():
        yield InputError(path, *NO_NUMBER)
    elif isinstance(value, str) and _SURROGATE.search(value):
        yield InputError(path, *HALF)
