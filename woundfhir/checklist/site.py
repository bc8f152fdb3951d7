"""Checklists as files: which rules, which are left out and why, and a site's own rules in JSON Schema.

A rule of a site is two JSON Schema (draft 2020-12) fragments: where ``when`` fits, ``then`` must fit. They look at
what the rule's scope names: at ``entry`` the keys ``assessment``, ``care``, ``plan``, ``supplies``, ``photos``,
``note``, and beside them ``wound``, ``visit``, ``client`` and ``patient``; at ``visit`` the note, and ``patient``;
at ``wound`` the wound, and ``patient``; at ``patient`` the client; at ``record`` the whole record. Every leaf of the
record is text, as it was written.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from pydantic import Field

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.checklist.built_in import rules
from woundfhir.checklist.rule import Rule, renamed
from woundfhir.checklist.site_rule import RuleEntry
from woundfhir.errors import InputError
from woundfhir.site_file import SiteModel, SiteText, load_toml, near, read_text

STANDARD = "standard"
BUILT_IN = (STANDARD, "transfer")


class ChecklistFile(SiteModel):
    """A checklist file."""

    name: SiteText = Field(description="the name of the checklist, a text in quotes")
    version: SiteText = Field(description="its version, a text in quotes")
    title: SiteText = Field(description="its title, a text in quotes")
    builtin: bool = Field(True, description="true or false: whether the built-in rules hold too")
    transfer: bool = Field(False, description="true or false: whether the newest note is judged as a hand-over")
    ignore: dict[str, SiteText] = Field(
        {}, description='a reason: a line code = "a reason" for each rule below [ignore]'
    )
    rule: list[RuleEntry] = Field([], description="[[rule]] above each rule")


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

    Examples
    --------
    >>> found = compose("transfer")
    >>> found.transfer, len(found.rules) > 100, dict(found.ignore)
    (True, True, {})
    """

    name: str
    rules: tuple[Rule, ...]
    transfer: bool
    ignore: Mapping[str, str]


def compose(asked: str | Path | Checklist | Sequence[str | Path | Checklist] | None) -> Checklist:
    """Return one checklist made of all that are asked for; where none is, the site's that holds, or the standard one.

    Raises
    ------
    InputError
        For an unknown name, and for a file that is no checklist.
    """
    if not asked:
        site = catalogue().site
        asked = site.checklists if site is not None and site.checklists else STANDARD
    if isinstance(asked, (str, Path, Checklist)):
        asked = [asked]
    parts = [one if isinstance(one, Checklist) else load(one) for one in asked]
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
    return parse(read_text(name, "checklist", BUILT_IN), str(name))


@per_catalogue(8)
def _built_in(name: str) -> Checklist:
    text = (files("woundfhir.checklist") / "checklists" / f"{name}.toml").read_text("utf-8")
    return parse(text, f"{name}.toml")


def parse(text: str, where: str) -> Checklist:
    """Read a checklist from TOML text.

    Raises
    ------
    InputError
        When it is not a checklist.
    """
    file = load_toml(text, ChecklistFile, where, "checklist")
    found = (*(rules() if file.builtin else ()), *_own_rules(file.rule, where))
    if not found:
        raise InputError(where, "at least one rule", "Add one, or builtin = true; see `woundfhir explain checklist`")
    known = {rule.code for rule in found}
    for code in file.ignore.keys() - known:
        fix = renamed(code) or near(code, known) or "See `woundfhir explain` for the codes"
        raise InputError(f"{where}, ignore.{code}", "the code of a rule", fix)
    return Checklist(f"{file.name} {file.version}", found, file.transfer, dict(file.ignore))


def _own_rules(entries: Sequence[RuleEntry], where: str) -> list[Rule]:
    if entries:
        from woundfhir.checklist.schema_rule import schema_rule
    out: list[Rule] = []
    for number, entry in enumerate(entries, 1):
        place = f"{where}, rule {number}"
        made = schema_rule(entry, place)
        if made.code in {rule.code for rule in out}:
            raise InputError(f"{place}.code", "a code that no other rule here has", "Give each rule its own code")
        out.append(made)
    return out
