"""What the file of a dialect may hold."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from pydantic import Field

from woundfhir.errors import InputError
from woundfhir.fhir.dialects.names import NAMES
from woundfhir.site_file import SiteModel

Json = Any


class Change(SiteModel):
    """What is added to resources of one type, or to the items of one of their elements.

    ``concepts`` (of Observations: ``client.smoking``), ``where`` (an element has one of these values), ``has`` and
    ``lacks`` (each of these elements is there, none of them is) say to which. ``put`` gives elements that are missing,
    ``add`` items at the end of lists; ``split`` names the element with a whole name that is written in parts too.
    """

    type: str
    each: str = ""
    concepts: list[str] = Field(default_factory=list)
    where: dict[str, list[str]] = Field(default_factory=dict)
    has: list[str] = Field(default_factory=list)
    lacks: list[str] = Field(default_factory=list)
    put: dict[str, Any] = Field(default_factory=dict)
    add: dict[str, list[Any]] = Field(default_factory=dict)
    split: str = ""


class Claim(SiteModel):
    """A profile that resources of one type claim where every path in ``needs`` is there (``a|b[x]``: one of these).

    Elements in ``day`` are missing or name a whole day. Of several claims for a type the first that fits holds.
    """

    type: str
    profile: str
    concepts: list[str] = Field(default_factory=list)
    where: dict[str, list[str]] = Field(default_factory=dict)
    needs: list[str] = Field(default_factory=list)
    day: list[str] = Field(default_factory=list)


class Group(SiteModel):
    """An Observation between the panel and its members: those of ``concepts``."""

    place: str
    code: dict[str, Any]
    concepts: list[str]
    profile: str


class Part(SiteModel):
    """An answer of an Observation (a component with this code; ``value``: its own value) as one of its own."""

    place: str
    component: str = ""
    code: dict[str, Any]
    link: str
    profile: str


class Finding(SiteModel):
    """A Condition for each Observation of a concept that says that there is one, with parts of it as Observations."""

    concept: str
    place: str
    code: dict[str, Any]
    link: str
    profile: str
    parts: list[Part]


class Carried(SiteModel):
    """An extension of a wound's Condition that says what an element or an extension of ours says.

    ``of`` is one of ``site``, ``side``, ``panels``, or an extension of ours by its name; ``only`` the value it must
    have, ``value`` what is written then; ``within`` the extension around it.
    """

    url: str
    of: str
    within: str = ""
    only: Any = None
    value: dict[str, Any] = Field(default_factory=dict)


class Dialect(SiteModel):
    """One dialect: what is written otherwise, in this order."""

    title: str
    source: str
    #: Whether single answers of the panel are its components, and no Observations of their own.
    inline: bool = False
    change: list[Change] = Field(default_factory=list)
    group: list[Group] = Field(default_factory=list)
    finding: list[Finding] = Field(default_factory=list)
    carried: list[Carried] = Field(default_factory=list)
    claim: list[Claim] = Field(default_factory=list)


def dialect(name: str) -> Dialect:
    """Return a dialect.

    Raises
    ------
    InputError
        For an unknown name.

    Examples
    --------
    >>> dialect("us-core").title
    'US Core'
    """
    if name not in NAMES:
        raise InputError("--dialect", "one of " + ", ".join(NAMES), "Choose one of them")
    return _read(name)


@cache
def _read(name: str) -> Dialect:
    content = (files("woundfhir.fhir.dialects") / "data" / f"{name}.toml").read_text("utf-8")
    return Dialect.model_validate(tomllib.loads(content))
