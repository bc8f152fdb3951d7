"""How much may come in: sizes and depths beyond which reading refuses, before it spends memory on it."""

from __future__ import annotations

import re
from decimal import Decimal
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
#: Most objects, lists and values in one JSON text, and elements in one XML text: 200 MB of small ones would take GBs.
JSON_VALUES = 10_000_000
XML_ELEMENTS = 5_000_000
#: Most attributes of one XML element.
XML_ATTRIBUTES = 100
#: Most keys, items and values in one YAML text.
YAML_NODES = 2_000_000
#: Largest file that a site writes (policy, checklist), in bytes.
SITE_LIMIT = 10 * 1024 * 1024
#: Of a table: longest cell and longest name of a column, in characters; most columns; most cells.
CELL_LENGTH, COLUMN_LENGTH, COLUMNS, CELLS = 1_000_000, 500, 5_000, 5_000_000
#: Highest number in the name of a column, as in ``care.packing.1``.
COLUMN_NUMBER = 1_000
#: Longest id of a wound or a visit, in characters.
ID_LENGTH = 200
#: Most digits of a number, and its largest exponent: far beyond any measurement, and nothing to spend memory on.
NUMBER_DIGITS = 40
_TOO_LARGE: int = 10**NUMBER_DIGITS
_NUMBER = re.compile(r"-?([0-9]+)(?:\.([0-9]+))?(?:[eE]([+-]?[0-9]+))?")
#: What was expected and what to do where a number is beyond that.
TOO_LONG = (f"a number of at most {NUMBER_DIGITS} digits", "Write the number that was measured")


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


def number_fits(written: str) -> bool:
    """Whether a number in the notation of JSON has no more digits than are read, its exponent written out.

    Examples
    --------
    >>> number_fits("4.10"), number_fits("1E+2"), number_fits("1e999999999"), number_fits("9" * 41)
    (True, True, False, False)
    """
    found = _NUMBER.fullmatch(written) if len(written) <= 2 * NUMBER_DIGITS else None
    if found is None:
        return False
    whole, fraction, exponent = found[1], found[2] or "", int(found[3] or 0)
    return max(len(whole) + len(fraction), len(whole) + exponent, len(fraction) - exponent) <= NUMBER_DIGITS


def fits(value: int | float | Decimal) -> bool:
    """Whether a number is finite and has no more digits than are read; costs nothing however large it is.

    Examples
    --------
    >>> fits(Decimal("1E+2")), fits(Decimal("1e999999999")), fits(10**5000), fits(float("inf"))
    (True, False, False, False)
    """
    if isinstance(value, int):
        return -_TOO_LARGE < value < _TOO_LARGE
    _, digits, exponent = Decimal(value if isinstance(value, Decimal) else repr(float(value))).as_tuple()
    if not isinstance(exponent, int):
        return False
    return max(len(digits), len(digits) + exponent, -exponent) <= NUMBER_DIGITS
