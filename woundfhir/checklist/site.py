"""Checklists as files: which rules, which are left out and why, and a site's own rules in JSON Schema.

A rule of a site is two JSON Schema (draft 2020-12) fragments: where ``when`` fits, ``then`` must fit. They look at
what the rule's scope names: at ``entry`` the keys ``assessment``, ``care``, ``plan``, ``supplies``, ``photos``,
``note``, and beside them ``wound``, ``visit``, ``client`` and ``patient``; at ``visit`` the note, and ``patient``;
at ``wound`` the wound, and ``patient``; at ``patient`` the client; at ``record`` the whole record. Every leaf of the
record is text, as it was written.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, get_args

from woundfhir.checklist.rule import MARKS, Rule, Scope, Severity, rules
from woundfhir.errors import InputError

STANDARD = "standard"
BUILT_IN = (STANDARD, "transfer")
_TOP = frozenset(("name", "version", "title", "builtin", "transfer", "ignore", "rule"))
_RULE = frozenset(
    (
        "code",
        "name",
        "severity",
        "scope",
        "conditions",
        "when",
        "then",
        "path",
        "message",
        "fix",
        "why",
        "wrong",
        "right",
        "source",
        "mark",
    )
)
_NEEDED = ("code", "name", "severity", "scope", "then", "message", "fix", "source", "mark")


@dataclass(frozen=True, slots=True, eq=False)
class Checklist:
    """A set of rules.

    Attributes
    ----------
    name
        Name and version, joined where several are used together.
    rules
        In the order in which they are printed.
    transfer
        Whether the newest note is judged as a hand-over.
    ignore
        Code of a rule that is left out -> the reason.
    """

    name: str
    rules: tuple[Rule, ...]
    transfer: bool
    ignore: Mapping[str, str]


def compose(asked: str | Path | Checklist | Sequence[str | Path | Checklist] | None) -> Checklist:
    """Return one checklist made of all that are asked for; the standard one where none is.

    Raises
    ------
    InputError
        For an unknown name, and for a file that is no checklist.
    """
    if asked is None:
        return load(STANDARD)
    if isinstance(asked, (str, Path, Checklist)):
        asked = [asked]
    parts = [one if isinstance(one, Checklist) else load(one) for one in asked] or [load(STANDARD)]
    if len(parts) == 1:
        return parts[0]
    found: dict[str, Rule] = {}
    for part in parts:
        for rule in part.rules:
            if found.setdefault(rule.code, rule) is not rule:
                raise InputError(f"checklist, {rule.code}", "a code that only one checklist uses", "Rename a rule")
    ignore = {code: reason for part in parts for code, reason in part.ignore.items()}
    return Checklist(
        " + ".join(part.name for part in parts), tuple(found.values()), any(part.transfer for part in parts), ignore
    )


def load(name: str | Path) -> Checklist:
    """Return a built-in checklist by its name, or a site's own from a TOML file.

    Raises
    ------
    InputError
        Says the file, the rule, what was expected and what to do.
    """
    if str(name) in BUILT_IN:
        return _built_in(str(name))
    try:
        text = Path(name).read_text("utf-8")
    except FileNotFoundError:
        expected = f"a checklist: {' or '.join(BUILT_IN)}, or a file that exists"
        raise InputError(str(name), expected, "Check the name") from None
    except (OSError, UnicodeDecodeError):
        raise InputError(str(name), "a checklist file that can be read, in UTF-8", "Check the file") from None
    return parse(text, str(name))


@lru_cache(maxsize=8)
def _built_in(name: str) -> Checklist:
    text = (files("woundfhir.checklist") / "checklists" / f"{name}.toml").read_text("utf-8")
    return parse(text, f"{name}.toml")


def parse(text: str, where: str) -> Checklist:
    """Read a checklist from TOML text.

    Raises
    ------
    InputError
        When it is none.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(where, "a checklist in TOML", f"Correct the file: {error}") from None
    if unknown := sorted(raw.keys() - _TOP):
        raise InputError(f"{where}, {unknown[0]}", f"one of {', '.join(sorted(_TOP))}", "Take the key out")
    for key in ("name", "version", "title"):
        if not isinstance(raw.get(key), str) or not raw[key].strip():
            raise InputError(where, f"the text '{key}'", "Name the checklist, its version and its title")
    for key in ("builtin", "transfer"):
        if not isinstance(raw.get(key, False), bool):
            raise InputError(f"{where}, {key}", "true or false", "Write it without quotes")
    own = _own_rules(raw.get("rule", []), where)
    found = (*(rules() if raw.get("builtin", True) else ()), *own)
    if not found:
        raise InputError(where, "at least one rule", "Add one, or builtin = true; see `woundfhir explain checklist`")
    ignore = _ignored(raw.get("ignore", {}), {rule.code for rule in found}, where)
    return Checklist(f"{raw['name']} {raw['version']}", found, bool(raw.get("transfer", False)), ignore)


def _ignored(raw: Any, known: set[str], where: str) -> dict[str, str]:
    if not isinstance(raw, dict):
        raise InputError(f"{where}, ignore", 'a table: code = "reason"', "Write [ignore] and one line for each rule")
    for code, reason in raw.items():
        if code not in known:
            raise InputError(f"{where}, ignore.{code}", "the code of a rule", "See `woundfhir explain` for the codes")
        if not isinstance(reason, str) or not reason.strip():
            raise InputError(f"{where}, ignore.{code}", "a reason", "Write why the rule is left out")
    return dict(raw)


def _own_rules(raw: Any, where: str) -> list[Rule]:
    if not isinstance(raw, list):
        raise InputError(f"{where}, rule", "a list of rules", "Write [[rule]] above each")
    if raw:
        from woundfhir.checklist.schema_rule import schema_rule
    out: list[Rule] = []
    for number, entry in enumerate(raw, 1):
        place = f"{where}, rule {number}"
        _check(entry, place)
        made = schema_rule(entry, place)
        if made.code in {rule.code for rule in out}:
            raise InputError(f"{place}.code", "a code that no other rule here has", "Give each rule its own code")
        out.append(made)
    return out


def _check(entry: Any, place: str) -> None:
    """The parts of one rule, apart from its two schemas."""
    if not isinstance(entry, dict):
        raise InputError(place, "a rule", "Write [[rule]] and its keys below")
    if unknown := sorted(entry.keys() - _RULE):
        raise InputError(f"{place}.{unknown[0]}", f"one of {', '.join(sorted(_RULE))}", "Take the key out")
    if missing := [key for key in _NEEDED if key not in entry]:
        raise InputError(place, f"the key '{missing[0]}'", f"A rule needs {', '.join(_NEEDED)}")
    for key in _RULE - {"when", "then", "conditions"} & entry.keys():
        if not isinstance(entry[key], str) or not entry[key].strip():
            raise InputError(f"{place}.{key}", "a text", "Write it in quotes")
    for key, known in (("severity", get_args(Severity)), ("scope", get_args(Scope)), ("mark", MARKS)):
        if entry[key] not in known:
            raise InputError(f"{place}.{key}", f"one of: {', '.join(known)}", "Choose one of them")
