"""Where and why a JSON text is refused: its breaks, a key that stands twice, a number that is too long.

Each message has line and column and never what stands there.
"""

from __future__ import annotations

import json
import re
from decimal import InvalidOperation
from typing import Any

import msgspec

from woundfhir.errors import InputError
from woundfhir.limits import JSON_DEPTH, TOO_LONG, number_fits
from woundfhir.r4.utf8 import place, to_text

Json = Any

#: Strings, so that digits inside them are no numbers; and numbers.
_NUMBERS = re.compile(r'"(?:[^"\\]|\\.)*"|-?[0-9][0-9.eE+-]*')
_BYTE = re.compile(r"\(byte (\d+)\)")
_LONE = re.compile(rb"\\u[dD][89abAB][0-9a-fA-F]{2}(?!\\u[dD][c-fC-F])|(?<!\\u[dD][89abAB]..)\\u[dD][c-fC-F]")
_NOT_FINITE = re.compile(rb"-?(NaN|Infinity)")
#: A key that is safe to name in a message: the form of FHIR's and the record's own keys.
_KEY = re.compile(r"_?[A-Za-z][A-Za-z0-9_]{0,63}")
_TOKEN = re.compile(r'"(?:[^"\\]++|\\.)*+"|[\[\]{},:]')
#: What was expected and what to do, of what JSON cannot say in either direction.
HALF = ("whole characters, not half a surrogate pair", "Export the text again")
NO_NUMBER = ("a number (JSON has no NaN and no Infinity)", "Leave it out, or give a reason")


def refusal(content: bytes, error: Exception) -> InputError:
    """Turn what the decoder says into a place and a remedy, without a word of the content."""
    to_text(content)  # another encoding is named first
    if isinstance(error, RecursionError):
        return _too_deep()
    where = _BYTE.search(str(error))
    if where is None and not isinstance(error, msgspec.ValidationError | InvalidOperation):
        if lone := _LONE.search(content):
            return InputError(place(content, lone.start()), *HALF)
        rest = "the rest of the JSON: it ends in the middle" if content.strip() else "one JSON object: this is empty"
        return InputError(place(content, len(content)), rest, "Copy or send the file again")
    if where is None:
        return InputError("a number", "numbers that a computer can hold", "Look for one with thousands of digits")
    at = int(where[1])
    if _NOT_FINITE.match(content, max(at - 1, 0)) or _NOT_FINITE.match(content, at):
        return InputError(place(content, at), *NO_NUMBER)
    return InputError(place(content, at), "JSON, and it breaks here", "Look for a missing bracket, comma or quote")


def _too_deep() -> InputError:
    return InputError("nesting", f"at most {JSON_DEPTH} levels", "Take out the objects and lists inside each other")


def refuse_deep(found: Json) -> None:
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


def refuse_twice(content: bytes) -> None:
    """Refuse a key that stands twice in its object, and a number too long to read: one pass finds both."""
    text = content.decode()
    try:
        json.loads(text, object_pairs_hook=_once, parse_float=_fits, parse_int=_fits)
    except _TooLong:
        where = place(content, len(text[: _long_number(text)].encode()))
        raise InputError(where, *TOO_LONG, found="a number that is too long") from None
    except _Twice:
        at, path = _second(text)
        where = place(content, len(text[:at].encode()))
        raise InputError(f"{where} ({path})", "each key once in an object", "Remove one of the two") from None


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
