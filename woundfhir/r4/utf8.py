"""Bytes as text in UTF-8, other encodings named, and a byte's line and column for a message."""

from __future__ import annotations

from woundfhir.errors import InputError

_MARKS = {b"\xff\xfe\x00\x00": "UTF-32", b"\x00\x00\xfe\xff": "UTF-32", b"\xff\xfe": "UTF-16", b"\xfe\xff": "UTF-16"}


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
    if wide := wide_encoding(content):
        raise InputError("byte 0", f"text in UTF-8, and this is {wide}", "Save the file as UTF-8")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(place(content, error.start), "text in UTF-8", "Save the file as UTF-8") from None


def wide_encoding(content: bytes) -> str:
    """Name UTF-16 or UTF-32, by its mark or by its zero bytes; "" for neither."""
    for mark, name in _MARKS.items():
        if content.startswith(mark):
            return name
    zeros = content[:4].count(0)
    return "" if zeros == 0 else "UTF-32" if zeros == 3 else "UTF-16"


def place(content: bytes, byte: int) -> str:
    """Say line and column (in characters) of a byte."""
    line = content.count(b"\n", 0, byte) + 1
    before = content[content.rfind(b"\n", 0, byte) + 1 : byte]
    return f"line {line}, column {len(before.decode('utf-8', 'replace')) + 1}"
