"""Values as Python programs and database drivers hold them, as the plain values that a record is written with.

Dates, times, UUIDs and decimals mean what they mean; a binary float is its shortest form (4.2, not 4.2000000000000002);
NaN, NaT and NA are how tables say that there is nothing. numpy and pandas are not imported: their values are known by
what they can do.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime, time
from decimal import Decimal
from enum import Enum
from typing import Any
from uuid import UUID

from woundfhir.errors import InputError
from woundfhir.limits import JSON_DEPTH, TOO_LONG

Json = Any
_KEY = re.compile(r"\w{1,64}")
_KINDS = "text, a number, true or false, a date, a time, a UUID, nothing, or dicts and lists of these"


class _Refused(Exception):
    """A value that has no plain form; ``path`` grows from the inside while it rises."""

    def __init__(self, kind: str, expected: tuple[str, str] = (_KINDS, "Convert it first")) -> None:
        super().__init__(kind)
        self.kind, self.expected = kind, expected
        self.path = ""


def plain(value: Json, where: str = "input") -> Json:
    """Return a copy that holds dicts, lists, text, whole numbers, ``Decimal``, truth values and None, and nothing else.

    Parameters
    ----------
    value
        Anything that a Python program holds: also tuples, other mappings, numpy and pandas scalars and arrays. It is
        not changed, and nothing of it is shared with the copy.
    where
        What it is, for messages.

    Raises
    ------
    InputError
        With the path, for what has no meaning in a record or in FHIR: bytes, sets, objects, infinity, keys that are no
        text. For what is nested without end.

    Examples
    --------
    >>> plain({"length": 4.2, "born": date(1948, 3, 9), "odour": float("nan"), "tags": ("a", True)})
    {'length': Decimal('4.2'), 'born': '1948-03-09', 'odour': None, 'tags': ['a', True]}
    """
    try:
        return _plain(value)
    except _Refused as odd:
        place, kind, expected = odd.path.removeprefix("."), odd.kind, odd.expected
    except RecursionError:
        place, kind, expected = "", "nested without end", (f"at most {JSON_DEPTH} levels", "Take out what holds itself")
    raise InputError(f"{where}, {place}" if place else where, *expected, found=f"a value is {kind}")


def _plain(value: Json) -> Json:
    kind = value.__class__
    if kind is str or value is None or kind is int or kind is bool:
        return value
    if kind is dict:
        return _mapping(value)
    if kind is list:
        return _list(value)
    if kind is Decimal:
        return _decimal(value)
    return _other(value)


def _mapping(value: Mapping[Any, Json]) -> dict[str, Json]:
    out = {}
    for key, item in value.items():
        try:
            out[key if key.__class__ is str else _key(key)] = _plain(item)
        except _Refused as odd:
            odd.path = f".{key if isinstance(key, str) and _KEY.fullmatch(key) else '?'}{odd.path}"
            raise
    return out


def _list(value: Any) -> list[Json]:
    out = []
    for number, item in enumerate(value):
        try:
            out.append(_plain(item))
        except _Refused as odd:
            odd.path = f"[{number}]{odd.path}"
            raise
    return out


def _key(key: object) -> str:
    if isinstance(key, Enum):
        return _key(key.value)
    if isinstance(key, str):
        return str.__str__(key)
    if isinstance(key, int) and not isinstance(key, bool):
        return str(int(key))
    raise _Refused(f"under a key of type {type(key).__name__}")


def _decimal(value: Decimal) -> Decimal | None:
    if value.is_nan():
        return None
    if value.is_infinite():
        raise _Refused("infinite", TOO_LONG)
    return value


def _other(value: Any) -> Json:
    if isinstance(value, Enum):
        return _plain(value.value)
    if isinstance(value, str):
        return str.__str__(value)
    if _is_missing(value):
        return None
    if isinstance(value, float):
        return _decimal(Decimal(float.__repr__(value)))
    if isinstance(value, Decimal):
        return _decimal(Decimal(value))
    if isinstance(value, int):
        return int(value)
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, Mapping):
        return _mapping(value)
    if isinstance(value, list | tuple):
        return _list(value)
    return _array(value)


def _is_missing(value: Any) -> bool:
    """Whether it is NaN, NaT or NA: not equal to itself, or refusing to say so."""
    if type(value).__name__ == "NAType":
        return True
    try:
        return bool(value != value) and not hasattr(value, "__len__")
    except Exception:  # an array says neither
        return False


def _array(value: Any) -> Json:
    """What numpy and pandas hold: arrays and series by their items, scalars by what they are."""
    if not hasattr(value, "dtype"):
        raise _Refused(f"of type {type(value).__name__}")
    if getattr(value, "ndim", 0):
        return _list(value)
    kind = getattr(value.dtype, "kind", "")
    if kind == "f":  # of single precision too: the shortest form is that of its own precision
        return _decimal(Decimal(str(value)))
    if kind == "M":
        return re.sub(r"(\.\d*?)0+$", r"\1", str(value)).removesuffix(".")
    item = value.item() if hasattr(value, "item") else value
    if hasattr(item, "dtype") or isinstance(item, bytes | complex):
        raise _Refused(f"of type {type(value).__name__}")
    return _plain(item)
