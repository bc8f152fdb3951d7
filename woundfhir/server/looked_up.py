"""What a terminology server says of the codes that came: lines for a person; the result is the same without them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.fhir.losses import Losses
from woundfhir.fhir.terms import code_keys
from woundfhir.intake.unread import Unread, unread
from woundfhir.maps import CodeMap, in_force
from woundfhir.server.terminology import Concept, Terminology

Json = Any
#: So many codes are asked for in one run, and so many steps up from one of them.
CODES, STEPS, _WIDE = 100, 4, 24
#: So many codes that we know are tried before a server counts as one that does not have their system.
_TRIED = 3
#: Systems that are published for all: a house's own codes are nobody else's business, and may name a client.
_PUBLISHED = ("http://loinc.org", "http://snomed.info/", "http://hl7.org/fhir/sid/icd", "http://www.nlm.nih.gov/")
_CODE = re.compile(r"[0-9A-Za-z][0-9A-Za-z.\-]{0,19}")


@dataclass(frozen=True, slots=True)
class Said:
    """What a server says of one code.

    Attributes
    ----------
    name
        The code, with its name there where it has one.
    facts
        The facts about it, in words.
    source
        Who says so.
    """

    name: str
    facts: tuple[str, ...]
    source: str

    @property
    def line(self) -> str:
        """It in one line, with who says so."""
        return f"{self.name}: {'; '.join(self.facts)} (the terminology server {self.source})"


def of_reports(reports: Iterable[Losses], server: Terminology) -> list[str]:
    """Return lines on the codes that came: those that were not read, and those of every Condition.

    Only what a person may act on is a line: a wound that the record does not have, a code that is not current or not
    known there, a wider code that is known here.
    """
    some = list(reports)
    unknown = {(one.system, one.code): one for one in unread(some)}
    conditions = dict.fromkeys(key for one in some for key in _conditions(one))
    asked = [key for key in dict.fromkeys((*unknown, *conditions)) if _may_ask(*key)]
    found = _Codes(server)
    lines = [said.line for key in asked[:CODES] if (said := found.say(*key, unknown.get(key))) is not None]
    more = [f"{len(asked) - CODES} more codes were not looked up."] if len(asked) > CODES else []
    return [*lines, *found.absent, *more]


def comments(unknown: Iterable[Unread], server: Terminology) -> dict[tuple[str, str], str]:
    """Return what a server says of each code that was not read, for a map that is to be filled in."""
    found = _Codes(server)
    asked = [one for one in unknown if _may_ask(one.system, one.code)][:CODES]
    said = {(one.system, one.code): found.say(one.system, one.code, one) for one in asked}
    return {key: one.line for key, one in said.items() if one is not None}


def of_maps(maps: Iterable[CodeMap], server: Terminology) -> Iterator[str]:
    """Yield a line for each code of a map that is not current, or not known there."""
    found = _Codes(server)
    for mapping in (one for code_map in maps for one in code_map.mappings):
        if _may_ask(*mapping.key) and (said := found.say(*mapping.key, None)) is not None:
            yield f"{mapping.where}: {said.line}"
    yield from found.absent


def _may_ask(system: str, code: str) -> bool:
    return system.startswith(_PUBLISHED) and _CODE.fullmatch(code) is not None


def _conditions(report: Losses) -> Iterator[tuple[str, str]]:
    for taken in report.taken:
        if taken.type == "Condition" and isinstance(taken.came, dict):
            for system, code in code_keys(taken.came.get("code")):
                if isinstance(system, str) and isinstance(code, str):
                    yield system, code


class _Codes:
    """What one server says of codes."""

    def __init__(self, server: Terminology) -> None:
        self._server = server
        self._has: dict[str, bool] = {}

    @property
    def absent(self) -> list[str]:
        """A line for each system that the server does not have."""
        base = self._server.kept.base
        return [f"{one}: not on the terminology server {base}" for one, has in self._has.items() if not has]

    def say(self, system: str, code: str, unknown: Unread | None) -> Said | None:
        """Return what to report about a code, or None; ``unknown`` is how it came, where it was not read."""
        valid = self._server.validate(system, code)
        if valid is not None and not valid[0]:
            known = self._knows(system, code)
            return Said(_name(system, code, ""), ("not known there",), valid[1]) if known else None
        found = self._server.lookup(system, code)
        facts, source = self._facts(system, code, unknown, found)
        return Said(_name(system, code, found.display if found is not None else ""), facts, source) if facts else None

    def _facts(
        self, system: str, code: str, unknown: Unread | None, found: Concept | None
    ) -> tuple[tuple[str, ...], str]:
        """Return the facts, and who says so."""
        facts, source = [], "" if found is None else found.source
        if found is not None and found.current is False:
            facts.append("no longer current")
        if unknown is not None and any(place.startswith("Condition") for place in unknown.places):
            wound = self._is_wound(system, code)
            if wound is not None:
                facts.append("a kind of wound, and no map says what to read it as")
                source = source or wound
                facts += self._kinds(system, code) if found is None or not found.parents else []
        if unknown is not None and found is not None:
            facts += self._narrower(system, found)
        return tuple(facts), source

    def _knows(self, system: str, code: str) -> bool:
        """Whether the server has the system at all: it knows one of the codes that we know of it."""
        if system not in self._has:
            wound = catalogue().codes["wound_category"].key
            known = (one for one in (wound, *catalogue().emitted(), *in_force().by_code) if one[0] == system)
            some = list(islice((other for _, other in known if other != code), _TRIED))
            valid = [self._server.validate(system, other) for other in some]
            self._has[system] = not some or any(one is None or one[0] for one in valid)
        return self._has[system]

    def _is_wound(self, system: str, code: str) -> str | None:
        """Who says that a code is a kind of wound; None where nobody does."""
        wound = catalogue().codes["wound_category"]
        if wound.system != system:
            return None
        found = self._server.subsumes(system, wound.code, code)
        return found[1] if found is not None and found[0] else None

    def _kinds(self, system: str, code: str) -> list[str]:
        """The kinds of wound that a code is narrower than, the nearest alone: of a server that names no parents."""
        kinds = {key: word.key for key, word in catalogue().answers["wound_kind"].by_code.items()}
        for mapping in (one for some in in_force().by_code.values() for one in some):
            if mapping.target is not None and mapping.target.name.startswith("wound_kind/"):
                kinds.setdefault(mapping.key, mapping.target.name)
        asked = sorted((other, name) for (one, other), name in kinds.items() if one == system)
        found = [(other, name) for other, name in asked if self._is_narrower(system, other, code)]
        near = [
            (other, name)
            for other, name in found
            if not any(self._is_narrower(system, other, nearer) for nearer, _ in found if nearer != other)
        ]
        return [f"narrower than {_name(system, other, '')}, which is read as answer:{name}" for other, name in near]

    def _is_narrower(self, system: str, wide: str, code: str) -> bool:
        found = self._server.subsumes(system, wide, code)
        return found is not None and found[0]

    def _narrower(self, system: str, found: Concept) -> list[str]:
        """What a code is narrower than and is known here: the nearest, going up step by step."""
        table, level, seen = in_force(), list(found.parents), set(found.parents)
        for _ in range(STEPS):
            for code in level:
                targets = [one.target for one in table.meaning(system, code) if one.target is not None]
                read = min((one.id for one in targets), key=lambda one: not one.startswith("answer:"), default=None)
                if read is not None:
                    return [f"narrower than {_name(system, code, '')}, which is read as {read}"]
            wider = (one for code in level[:_WIDE] if (one := self._server.lookup(system, code)) is not None)
            level = [code for code in dict.fromkeys(code for one in wider for code in one.parents) if code not in seen]
            seen.update(level)
        return []


def _name(system: str, code: str, display: str) -> str:
    prefix = next((name for name, url in catalogue().systems.items() if url == system), None)
    plain = " ".join(display.split())[:100]
    return f"{prefix or system}{':' if prefix else '|'}{code}{f' {plain}' if plain else ''}"
