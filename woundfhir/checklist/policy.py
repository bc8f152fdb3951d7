"""Policies: named, versioned tables of every number on which guidelines differ, each with its source.

The table of the default policy says which numbers there are; a site's own file names the policy that it
``extends`` and gives only what it sets differently.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import BeforeValidator, ConfigDict, Field

from woundfhir.catalogue import catalogue
from woundfhir.catalogue.model import Mark
from woundfhir.checklist.pages import common, marked
from woundfhir.errors import InputError
from woundfhir.record.spoken import number
from woundfhir.site_file import SiteModel, SiteText, checked, load_toml, near, read_text, refuse

DEFAULT = "ontario"
BUILT_IN = ("ontario", "international")


def _number(text: Any) -> Decimal:
    """A number as a policy writes it: in quotes, so that 0.80 stays 0.80."""
    try:
        value = Decimal(text) if isinstance(text, str) else Decimal("NaN")
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite() or value < 0:
        refuse("a number in quotes, not below zero", 'Write it with a point: "0.8"')
    return value


class PolicyNumber(SiteModel):
    """One number as a policy file gives it; unit and meaning may be left to the policy that it extends."""

    value: Annotated[Decimal, BeforeValidator(_number)] = Field(description="the number, a text in quotes")
    source: SiteText = Field(description="where the number is from, a text in quotes")
    mark: Mark = Field(description="how far the source can be trusted, a text in quotes")
    unit: SiteText | None = Field(None, description="the UCUM unit, a text in quotes")
    meaning: SiteText | None = Field(None, description="what the number means, a text in quotes")
    others: SiteText | None = Field(None, description="what other bodies give, a text in quotes")


class PolicyFile(SiteModel):
    """The head of a policy file; every other key is a group of numbers."""

    model_config = ConfigDict(extra="allow")

    name: SiteText = Field(description="the name of the policy, a text in quotes")
    version: SiteText = Field(description="its version, a text in quotes")
    title: SiteText = Field(description="its title, a text in quotes")
    extends: Literal["ontario", "international"] | None = Field(None, description="the built-in policy it starts from")


class Limit(NamedTuple):
    """One number of a policy, in a UCUM unit: what it means, where it is from, and what other bodies give."""

    value: Decimal
    unit: str
    meaning: str
    source: str
    mark: str
    others: str = ""


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
        return number(f"{limit.value} {limit.unit}" if limit.unit != "1" else str(limit.value))

    def source(self, key: str) -> str:
        """Return where the number is from, with the policy's name and the mark of the source."""
        limit = self.limits[key]
        source = marked(limit.source, limit.mark)
        return common("policy")["source"].format(name=self.name, version=self.version, source=source)


def load(name: str | Path | None = None) -> Policy:
    """Return a built-in policy by its name, or a site's own from a TOML file.

    Parameters
    ----------
    name
        ``ontario``, ``international``, or the path of a file; without it that of the site that holds, or ``ontario``.

    Raises
    ------
    InputError
        Says the file, the key, what was expected and what to do.
    """
    if name is None:
        site = catalogue().site
        name = DEFAULT if site is None or site.policy is None else site.policy
    if str(name) in BUILT_IN:
        return _built_in(str(name))
    return parse(read_text(name, "policy", BUILT_IN), str(name))


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
    file = load_toml(text, PolicyFile, where, "policy")
    known = dict(_built_in(file.extends).limits) if file.extends else {}
    expected = known.keys() or _expected(where)
    limits = dict(known)
    for key, entry in _entries(file):
        if expected and key not in expected:
            raise InputError(
                f"{where}, {key}",
                f"one of the numbers of the policy {DEFAULT}",
                near(key, (*expected, *PolicyFile.model_fields)) or _LIST,
            )
        limits[key] = _limit(checked(entry, PolicyNumber, where, key), f"{where}, {key}", known.get(key))
    if missing := sorted(expected - limits.keys()):
        raise InputError(where, f"the number {missing[0]}", f'Add it, or write extends = "{DEFAULT}"')
    return Policy(file.name, file.version, file.title, limits)


_LIST = f"See `woundfhir explain {DEFAULT}` for the numbers, `woundfhir explain policy` for the form"


def _expected(where: str) -> frozenset[str]:
    """The keys that a whole policy has: those of the default one; it is the measure of itself."""
    return frozenset() if where == f"{DEFAULT}.toml" else frozenset(_built_in(DEFAULT).limits)


def _entries(file: PolicyFile) -> Iterator[tuple[str, Any]]:
    for group, entries in (file.__pydantic_extra__ or {}).items():
        if isinstance(entries, dict):
            yield from ((f"{group}.{key}", entry) for key, entry in entries.items())
        else:
            yield group, entries


def _limit(entry: PolicyNumber, where: str, known: Limit | None) -> Limit:
    unit, meaning = entry.unit or (known and known.unit), entry.meaning or (known and known.meaning)
    if not unit or not meaning:
        expected = "a text in quotes: the number is no number of a policy that this one extends"
        raise InputError(f"{where}.{'meaning' if unit else 'unit'}", expected, "Give its unit and its meaning")
    if known is not None and unit != known.unit:
        raise InputError(f"{where}.unit", f"the unit {known.unit}", "Give the number in this unit")
    others = entry.others or (known.others if known is not None else "")
    return Limit(entry.value, unit, meaning, entry.source, entry.mark, others)
