"""JSON, exact: 4.10 comes in as ``Decimal("4.10")`` and goes out as 4.10.

Two readers: ``decode`` for the hot path (msgspec alone), and ``decode_checked`` for files, which also refuses what
msgspec lets pass: a key that stands twice (RFC 8259 leaves its meaning open, so one of the two would be lost),
nesting without end, and too large an input. Both say where a broken text breaks, and never what stands there.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any, BinaryIO

import msgspec

from woundfhir.errors import InputError
from woundfhir.limits import JSON_DEPTH, JSON_VALUES, LIMIT, LINE_LIMIT, TOO_LONG, check_size, number_fits, read_whole

Json = Any

_encoder = msgspec.json.Encoder(decimal_format="number")
_encode = _encoder.encode
#: Strings, so that digits inside them are no numbers; and numbers.
_NUMBERS = re.compile(r'"(?:[^"\\]|\\.)*"|-?[0-9][0-9.eE+-]*')
_decoder = msgspec.json.Decoder(float_hook=Decimal)
_decode, _decode_lines = _decoder.decode, _decoder.decode_lines
#: Turns digits and points into zeros and all else into blanks; so many in a row may be a number that is too long.
_AS_DIGITS = bytes(48 if chr(byte) in "0123456789." else 32 for byte in range(256))
_MANY_DIGITS = b"0" * 21
_EXPONENT = re.compile(rb"[0-9]E[+-]")
_BYTE = re.compile(r"\(byte (\d+)\)")
_LONE = re.compile(rb"\\u[dD][89abAB][0-9a-fA-F]{2}(?!\\u[dD][c-fC-F])|(?<!\\u[dD][89abAB]..)\\u[dD][c-fC-F]")
_NOT_FINITE = re.compile(rb"-?(NaN|Infinity)")
_SURROGATE = re.compile("[\ud800-\udfff]")
#: A key that is safe to name in a message: the form of FHIR's and the record's own keys.
_KEY = re.compile(r"_?[A-Za-z][A-Za-z0-9_]{0,63}")
_TOKEN = re.compile(r'"(?:[^"\\]++|\\.)*+"|[\[\]{},:]')
_HALF = ("whole characters, not half a surrogate pair", "Export the text again")
_NO_NUMBER = ("a number (JSON has no NaN and no Infinity)", "Leave it out, or give a reason")
_MARKS = {b"\xff\xfe\x00\x00": "UTF-32", b"\x00\x00\xfe\xff": "UTF-32", b"\xff\xfe": "UTF-16", b"\xfe\xff": "UTF-16"}


# -- text ------------------------------------------------------------------------------------------


def to_text(content: bytes) -> str:
    """Return UTF-8 bytes as text, without a byte order mark.

    Raises
    ------
    InputError
        For another encoding: names UTF-16 and UTF-32 where they can be told, else line and column of the first
        byte that is not UTF-8.

    Examples
    --------
    >>> to_text(b"\\xef\\xbb\\xbfcm")
    'cm'
    >>> to_text(b"\\xff\\xfe{\\x00")
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: byte 0: expected text in UTF-8, and this is UTF-16. Save the file as UTF-8
    """
    if wide := _wide(content):
        raise InputError("byte 0", f"text in UTF-8, and this is {wide}", "Save the file as UTF-8")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(_place(content, error.start), "text in UTF-8", "Save the file as UTF-8") from None


def _wide(content: bytes) -> str:
    """Name UTF-16 or UTF-32, by its mark or by its zero bytes; "" for neither."""
    for mark, name in _MARKS.items():
        if content.startswith(mark):
            return name
    zeros = content[:4].count(0)
    return "" if zeros == 0 else "UTF-32" if zeros == 3 else "UTF-16"


def _place(content: bytes, byte: int) -> str:
    """Say line and column (in characters) of a byte."""
    line = content.count(b"\n", 0, byte) + 1
    before = content[content.rfind(b"\n", 0, byte) + 1 : byte]
    return f"line {line}, column {len(before.decode('utf-8', 'replace')) + 1}"


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
    try:
        found = _decode(content)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError, InvalidOperation) as error:
        raise _told(content, error) from None
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
    check_size(len(content), limit)
    if _wide(content):
        to_text(content)
    content = content.removeprefix(b"\xef\xbb\xbf")
    if len(content) > JSON_VALUES and content.count(b",") + content.count(b"[") + content.count(b"{") > JSON_VALUES:
        raise InputError("input", f"at most {JSON_VALUES:,} values", "Split it, or send it as NDJSON in parts")
    found = decode(content)
    if content.count(b"{") + content.count(b"[") > JSON_DEPTH:
        _refuse_deep(found)
    if not _as_we_write(content, found):
        _refuse_twice(content)
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


def _told(content: bytes, error: Exception) -> InputError:
    """Turn what the decoder says into a place and a remedy, without a word of the content."""
    to_text(content)  # another encoding is told first
    if isinstance(error, RecursionError):
        return _too_deep()
    where = _BYTE.search(str(error))
    if where is None and not isinstance(error, msgspec.ValidationError | InvalidOperation):
        if lone := _LONE.search(content):
            return InputError(_place(content, lone.start()), *_HALF)
        rest = "the rest of the JSON: it ends in the middle" if content.strip() else "one JSON object: this is empty"
        return InputError(_place(content, len(content)), rest, "Copy or send the file again")
    if where is None:
        return InputError("a number", "numbers that a computer can hold", "Look for one with thousands of digits")
    at = int(where[1])
    if _NOT_FINITE.match(content, max(at - 1, 0)) or _NOT_FINITE.match(content, at):
        return InputError(_place(content, at), *_NO_NUMBER)
    return InputError(_place(content, at), "JSON, and it breaks here", "Look for a missing bracket, comma or quote")


def _too_deep() -> InputError:
    return InputError("nesting", f"at most {JSON_DEPTH} levels", "Take out the objects and lists inside each other")


def _refuse_deep(found: Json) -> None:
    level: list[Json] = [found]
    for _ in range(JSON_DEPTH):
        items = (item for box in level for item in (box.values() if type(box) is dict else box))
        level = [item for item in items if type(item) is dict or type(item) is list]
        if not level:
            return
    raise _too_deep()


class _Twice(Exception):
    """Some key stands twice; where is found by ``_second``."""


class _TooLong(Exception):
    """Some number has more digits than are read; which is found by ``_long_number``."""


def _fits(written: str) -> None:
    """Called for each number, before anything is made of it."""
    if (len(written) > 20 or "e" in written or "E" in written) and not number_fits(written):
        raise _TooLong


def _long_number(text: str) -> int:
    """Return the position of the first number with more digits than are read."""
    return next(m.start() for m in _NUMBERS.finditer(text) if m[0][0] != '"' and not number_fits(m[0]))


def _once(pairs: list[tuple[str, Json]]) -> None:
    """Called for each object. Its values are let go at once: the pass needs no memory for them."""
    if len(dict(pairs)) != len(pairs):
        raise _Twice


def _refuse_twice(content: bytes) -> None:
    """Refuse a key that stands twice in its object, and a number too long to read: one pass finds both."""
    text = content.decode()
    try:
        json.loads(text, object_pairs_hook=_once, parse_float=_fits, parse_int=_fits)
    except _TooLong:
        place = _place(content, len(text[: _long_number(text)].encode()))
        raise InputError(place, *TOO_LONG, found="a number that is too long") from None
    except _Twice:
        at, path = _second(text)
        place = _place(content, len(text[:at].encode()))
        raise InputError(f"{place} ({path})", "each key once in an object", "Remove one of the two") from None


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


def _second(text: str) -> tuple[int, str]:
    """Return position and path of the first key that stands twice in its object."""
    stack: list[tuple[set[str] | None, str]] = []  # the keys of an object so far (None: a list) and the key we are at
    key_next = False
    for match in _TOKEN.finditer(text):
        mark = match[0]
        if mark in "[{":
            stack.append((set() if mark == "{" else None, ""))
            key_next = mark == "{"
        elif mark in "]}":
            stack.pop()
        elif mark == ",":
            key_next = stack[-1][0] is not None
        elif key_next and mark != ":":
            keys, key = stack[-1][0], json.loads(mark)
            stack[-1] = (keys, key if _KEY.fullmatch(key) else "?")
            if keys is not None and key in keys:
                return match.start(), ".".join(name for _, name in stack if name)
            if keys is not None:
                keys.add(key)
            key_next = False
    raise AssertionError("no key stands twice")


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
                yield InputError(f"a key in {path or 'the object'}", *_HALF)
            yield from _unfit(item, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list | tuple):
        for number, item in enumerate(value):
            yield from _unfit(item, f"{path}[{number}]")
    elif isinstance(value, Decimal) and not value.is_finite():
        yield InputError(path, *_NO_NUMBER)
    elif isinstance(value, str) and _SURROGATE.search(value):
        yield InputError(path, *_HALF)
