"""Policies: named, versioned tables of every number on which guidelines differ, each with its source.

The table of the default policy says which numbers there are; a site's own file names the policy that it
``extends`` and gives only what it sets differently.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

from woundfhir.checklist.rule import MARKS
from woundfhir.errors import InputError

DEFAULT = "ontario"
BUILT_IN = ("ontario", "international")
_KEYS = frozenset(("value", "unit", "meaning", "source", "mark"))


class Limit(NamedTuple):
    """One number of a policy, in a UCUM unit, with what it means and where it is from."""

    value: Decimal
    unit: str
    meaning: str
    source: str
    mark: str


@dataclass(frozen=True, slots=True, eq=False)
class Policy:
    """A named, versioned table of numbers.

    Examples
    --------
    >>> load("ontario").number("full_assessment.days")
    Decimal('7')
    """

    name: str
    version: str
    title: str
    limits: Mapping[str, Limit]

    def number(self, key: str) -> Decimal:
        """Return a number; KeyError for one that no policy has."""
        return self.limits[key].value

    def days(self, key: str) -> int:
        """Return a number of whole days."""
        return int(self.limits[key].value)

    def says(self, key: str) -> str:
        """Return the number with its unit, for a message: ``7 d``."""
        limit = self.limits[key]
        return f"{limit.value} {limit.unit}" if limit.unit != "1" else str(limit.value)

    def source(self, key: str) -> str:
        """Return where the number is from, with the policy's name and the mark of the source."""
        limit = self.limits[key]
        return f"policy {self.name} {self.version}: {limit.source} ({limit.mark})"


def load(name: str | Path) -> Policy:
    """Return a built-in policy by its name, or a site's own from a TOML file.

    Parameters
    ----------
    name
        ``ontario``, ``international``, or the path of a file.

    Raises
    ------
    InputError
        Says the file, the key, what was expected and what to do.
    """
    if str(name) in BUILT_IN:
        return _built_in(str(name))
    path = Path(name)
    try:
        text = path.read_text("utf-8")
    except FileNotFoundError:
        expected = f"a policy: {' or '.join(BUILT_IN)}, or a file that exists"
        raise InputError(str(name), expected, "Check the name") from None
    except (OSError, UnicodeDecodeError):
        raise InputError(str(name), "a policy file that can be read, in UTF-8", "Check the file") from None
    return parse(text, str(name))


@lru_cache(maxsize=8)
def _built_in(name: str) -> Policy:
    text = (files("woundfhir.checklist") / "policies" / f"{name}.toml").read_text("utf-8")
    return parse(text, f"{name}.toml")


def parse(text: str, where: str) -> Policy:
    """Read a policy from TOML text.

    Raises
    ------
    InputError
        When it is no policy.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(where, "a policy in TOML", f"{error}; see `woundfhir explain policy`") from None
    for key in ("name", "version", "title"):
        if not isinstance(raw.get(key), str) or not raw[key]:
            raise InputError(where, f"the text '{key}'", "Name the policy, its version and its title")
    base = raw.get("extends")
    if base is not None and base not in BUILT_IN:
        raise InputError(f"{where}, extends", f"one of {', '.join(BUILT_IN)}", "Name a built-in policy")
    known = dict(_built_in(base).limits) if base else {}
    expected = known.keys() or _expected(where)
    limits = dict(known)
    for key, entry in _entries(raw):
        if expected and key not in expected:
            raise InputError(f"{where}, {key}", f"one of the numbers of the policy {DEFAULT}", _LIST)
        limits[key] = _limit(entry, f"{where}, {key}", known.get(key))
    if missing := sorted(expected - limits.keys()):
        raise InputError(where, f"the number {missing[0]}", f'Add it, or write extends = "{DEFAULT}"')
    return Policy(raw["name"], raw["version"], raw["title"], limits)


_LIST = f"See `woundfhir explain {DEFAULT}` for the numbers, `woundfhir explain policy` for the form"


def _expected(where: str) -> frozenset[str]:
    """The keys that a whole policy has: those of the default one; it is the measure of itself."""
    return frozenset() if where == f"{DEFAULT}.toml" else frozenset(_built_in(DEFAULT).limits)


def _entries(raw: Mapping[str, Any]) -> list[tuple[str, Any]]:
    out = []
    for group, entries in raw.items():
        if group not in ("name", "version", "title", "extends"):
            rows = entries.items() if isinstance(entries, dict) else [("", entries)]
            out += [(f"{group}.{key}" if key else group, entry) for key, entry in rows]
    return out


def _limit(entry: Any, where: str, known: Limit | None) -> Limit:
    if not isinstance(entry, dict) or entry.keys() - _KEYS:
        raise InputError(where, f"a table with {', '.join(sorted(_KEYS))}", _LIST)
    named = {**({} if known is None else {"unit": known.unit, "meaning": known.meaning}), **entry}
    for key in ("value", "unit", "meaning", "source", "mark"):
        if not isinstance(named.get(key), str) or not named[key]:
            raise InputError(f"{where}.{key}", "a text in quotes", f"Every number needs {', '.join(sorted(_KEYS))}")
    if named["mark"] not in MARKS:
        raise InputError(f"{where}.mark", f"one of: {', '.join(MARKS)}", "Say how far the source can be trusted")
    if known is not None and named["unit"] != known.unit:
        raise InputError(f"{where}.unit", f"the unit {known.unit}", "Give the number in this unit")
    try:
        value = Decimal(named["value"])
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite() or value < 0:
        raise InputError(f"{where}.value", "a number in quotes, not below nought", 'Write it with a point: "0.8"')
    return Limit(value, named["unit"], named["meaning"], named["source"], named["mark"])
