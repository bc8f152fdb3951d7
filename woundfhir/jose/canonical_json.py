"""One text for one JSON value, so that it can be signed: RFC 8785, and a form that keeps the digits as written.

FHIR names RFC 8785 as http://hl7.org/fhir/canonicalization/json: no space between tokens, the members of an object
sorted by UTF-16 code units, strings with as few escapes as JSON allows, numbers as the shortest text of the nearest
binary floating point number. That last rule calls 4.10 and 4.1 the same. They are two different statements about how
closely somebody measured; ``exact`` is RFC 8785 without that rule.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

import msgspec

from woundfhir.errors import InputError
from woundfhir.r4 import jsonio

Json = Any
#: The largest whole number up to which a binary floating point number holds each one (RFC 8785 section 3.2.2.3).
_WHOLE = 2**53


def canonical(value: Json) -> bytes:
    """Return the text of a value by RFC 8785.

    Raises
    ------
    InputError
        For what the form cannot say: a number beyond binary floating point, half a surrogate pair.

    Examples
    --------
    >>> canonical({"b": [Decimal("4.10"), 1, True], "a": Decimal("2e-3")})
    b'{"a":0.002,"b":[4.1,1,true]}'
    """
    return jsonio.encode(_sorted(value, _shortest))


def exact(value: Json) -> bytes:
    """Return the same, with each number as it was written.

    Examples
    --------
    >>> exact({"b": [Decimal("4.10"), 1, True], "a": None})
    b'{"a":null,"b":[4.10,1,true]}'
    """
    return jsonio.encode(_sorted(value, lambda number: number))


def _sorted(value: Json, number: Callable[[Json], Json]) -> Json:
    if isinstance(value, Mapping):
        return {key: _sorted(value[key], number) for key in sorted(value, key=_utf16)}
    if isinstance(value, list | tuple):
        return [_sorted(item, number) for item in value]
    if isinstance(value, Decimal | int | float) and not isinstance(value, bool):
        return number(value)
    return value


def _utf16(key: str) -> bytes:
    return key.encode("utf-16-be", "surrogatepass")


def _shortest(number: Decimal | int | float) -> Json:
    if isinstance(number, int) and abs(number) <= _WHOLE:
        return number
    try:
        nearest = float(number)
    except OverflowError:
        nearest = float("inf")
    if nearest != nearest or abs(nearest) == float("inf"):
        raise InputError("a number", "one that binary floating point can hold", "Write it with fewer digits")
    return msgspec.Raw(es6(nearest).encode())


def es6(number: float) -> str:
    """Return a number as ECMAScript writes it (ECMA-262 Number::toString, which RFC 8785 section 3.2.2.3 asks for).

    Examples
    --------
    >>> es6(4.50), es6(1e30), es6(1e-7), es6(-0.0), es6(1e20)
    ('4.5', '1e+30', '1e-7', '0', '100000000000000000000')
    """
    sign, found, shift = Decimal(repr(number)).as_tuple()
    digits = "".join(map(str, found)).lstrip("0")
    if not digits:
        return "0"
    point = len(digits) + int(shift)  # how many digits stand before the point
    digits = digits.rstrip("0")
    count = len(digits)
    if count <= point <= 21:
        text = digits + "0" * (point - count)
    elif 0 < point <= 21:
        text = f"{digits[:point]}.{digits[point:]}"
    elif -6 < point <= 0:
        text = f"0.{'0' * -point}{digits}"
    else:
        text = f"{digits[0]}{'.' if count > 1 else ''}{digits[1:]}e{point - 1:+d}"
    return "-" + text if sign else text
