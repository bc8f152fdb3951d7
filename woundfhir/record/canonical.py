"""The whole record brought to its canonical form: keys in catalogue order, every leaf text, nothing lost.

What has no place goes to ``extra`` with its path; what has the wrong structure raises ``StructureError`` and is then
explained through the JSON Schema.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import msgspec

from woundfhir.catalogue import Concept, catalogue, current
from woundfhir.record import dates
from woundfhir.record.answers import StructureError, absent, text
from woundfhir.record.answers import canonical as answer

Json = Any
Unknown = Callable[[str, Json], None]

VERSION = 1
WOUND_STATUS = ("open", "closed", "entered in error")
VISIT_STATUS = ("draft", "final", "amended", "entered in error")
TOP = ("woundfhir", "zone", "patient", "wounds", "visits", "extra")
PATIENT = ("identifiers", "name", "born", "sex", "allergies", "conditions", "contact", "note")
NAME = ("family", "given", "text")
ALLERGY = ("to", "reaction", "status", "note")
CONTACT = ("name", "role", "phone")
AUTHOR = ("id", "name", "designation", "organisation")
VISIT = ("id", "at", "written", "by", "status", "replaces", "replaces_reason", "note")
ENTRY = ("wound", "assessment", "care", "supplies", "plan", "photos", "note")
EXTRA = ("from", "place", "element", "why", "came", "ours", "value")

_encode = msgspec.json.Encoder(decimal_format="number").encode


def key_of(key: object) -> str:
    """Return a key as the record writes it: lower case, underscores."""
    return str(key).strip().lower().replace(" ", "_").replace("-", "_")


def as_json(value: Json) -> str:
    """Return any value as compact JSON text: how ``extra`` keeps things verbatim in every format."""
    return _encode(value).decode()


def sort_extra(items: list[dict[str, str]]) -> list[dict[str, str]]:
    """Return the items of ``extra`` in one fixed order, each once."""
    named = {as_json(item): {key: item[key] for key in EXTRA if key in item} for item in items}
    return [named[key] for key in sorted(named)]


class _Walk:
    """One walk over one record."""

    def __init__(self) -> None:
        self.zone: str | None = None
        self.extra: list[dict[str, str]] = []

    def unknown(self, path: str, value: Json) -> None:
        kept = value if isinstance(value, str) else as_json(value)
        self.extra.append({"from": "record", "place": path, "why": "no such key", "value": kept})

    def mapping(self, raw: Json, known: tuple[str, ...] | Mapping[str, Any], path: str) -> dict[str, Json]:
        """Return the keys of a mapping in their canonical spelling; unknown ones go to ``extra``."""
        if not isinstance(raw, dict):
            raise StructureError
        out = {}
        for key, value in raw.items():
            name = key if key in known else key_of(key)
            if name in known:
                out[name] = value
            elif value is not None:
                self.unknown(f"{path}.{name}" if path else name, value)
        return out

    def texts(self, raw: Json, keys: tuple[str, ...], path: str) -> dict[str, str] | None:
        named = self.mapping(raw, keys, path)
        found = {key: text(named[key]) for key in keys if key in named}
        return {key: value for key, value in found.items() if value is not None} or None

    def below(self, head: str) -> Unknown:
        """Return a callback that keeps what stands below a path."""
        return lambda path, value: self.unknown(f"{head}{'' if path[:1] == '[' else '.'}{path}", value)

    def group(
        self, raw: Json, concepts: Mapping[str, Concept], path: str, also: tuple[str, ...] = ()
    ) -> dict[str, Json]:
        """Canonical answers of one group, in catalogue order; the keys ``also`` are left out."""
        named = self.mapping(raw, {**concepts, **dict.fromkeys(also)}, path)
        out: dict[str, Json] = {}
        for key, concept in concepts.items():
            if key in named:
                found = answer(concept, named[key], self.zone, self.below(f"{path}.{key}"))
                if found is not None:
                    out[key] = found
        return out

    # -- the parts of the record ---------------------------------------------------------------

    def record(self, raw: Json) -> dict[str, Json]:
        named = self.mapping(raw, TOP, "")
        if named.get("woundfhir") not in (VERSION, str(VERSION)) or "patient" not in named:
            raise StructureError
        self.zone = text(named.get("zone"))
        out: dict[str, Json] = {"woundfhir": VERSION}
        if self.zone:
            out["zone"] = self.zone
        out["patient"] = self.patient(named["patient"])
        out["wounds"] = [self.wound(item, f"wounds[{i}]") for i, item in enumerate(_list(named.get("wounds")))]
        out["visits"] = [self.visit(item, f"visits[{i}]") for i, item in enumerate(_list(named.get("visits")))]
        kept = [self.texts(item, EXTRA, f"extra[{i}]") for i, item in enumerate(_list(named.get("extra")))]
        if extra := [item for item in kept if item] + self.extra:
            out["extra"] = sort_extra(current(extra))
        return out

    def patient(self, raw: Json) -> dict[str, Json]:
        named = self.mapping(raw, PATIENT, "patient")
        identifiers = [
            self.texts(item, ("system", "value"), f"patient.identifiers[{i}]")
            for i, item in enumerate(_list(named.get("identifiers")))
        ]
        out: dict[str, Json] = {
            "identifiers": current([item for item in identifiers if item]),
            "name": self.name(named["name"]) if named.get("name") is not None else None,
            "born": dates.tidy(text(named.get("born")) or "", self.zone) or None,
            "sex": text(named.get("sex")),
            "allergies": self.known_list(named.get("allergies"), self.allergy, "patient.allergies"),
            "conditions": self.known_list(named.get("conditions"), lambda item, path: text(item), "patient.conditions"),
            "contact": self.texts(named["contact"], CONTACT, "patient.contact") if named.get("contact") else None,
            "note": text(named.get("note")),
        }
        return {key: value for key, value in out.items() if value}

    def name(self, raw: Json) -> dict[str, Json] | None:
        if not isinstance(raw, dict):
            return {"text": found} if (found := text(raw)) else None
        named = self.mapping(raw, NAME, "patient.name")
        given = named.get("given")
        parts = [found for item in (given if isinstance(given, list) else [given]) if (found := text(item))]
        out = {"family": text(named.get("family")), "given": parts, "text": text(named.get("text"))}
        return {key: value for key, value in out.items() if value} or None

    def known_list(self, raw: Json, item: Callable[[Json, str], Json], path: str) -> Json:
        """A list, or ``{none: known}``, or an absent reason."""
        if raw is None:
            return None
        if isinstance(raw, dict) and raw.keys() == {"none"}:
            return {"none": "known"}
        if (missing := absent(raw)) is not None:
            return missing or None
        items = raw if isinstance(raw, list) else [raw]
        return [found for i, one in enumerate(items) if (found := item(one, f"{path}[{i}]"))] or None

    def allergy(self, raw: Json, path: str) -> dict[str, str] | None:
        if not isinstance(raw, dict):
            return {"to": found} if (found := text(raw)) else None
        return self.texts(raw, ALLERGY, path)

    def wound(self, raw: Json, path: str) -> dict[str, Json]:
        named = self.mapping(raw, {**catalogue().groups["wound"], "id": 0, "status": 0, "note": 0}, path)
        out: dict[str, Json] = {"id": text(named.get("id"))}
        status = text(named.get("status"))
        if out["id"] is None or (status is not None and status.casefold() not in WOUND_STATUS):
            raise StructureError
        if status:
            out["status"] = status.casefold()
        out.update(self.group(named, catalogue().groups["wound"], path, ("id", "status", "note")))
        if note := text(named.get("note")):
            out["note"] = note
        return out

    def visit(self, raw: Json, path: str) -> dict[str, Json]:
        groups = catalogue().groups
        named = self.mapping(raw, {**groups["visit"], **dict.fromkeys((*VISIT, "client", "wounds"))}, path)
        status = text(named.get("status"))
        out: dict[str, Json] = {
            "id": text(named.get("id")),
            "at": dates.tidy(text(named.get("at")) or "", self.zone) or None,
            "written": dates.tidy(text(named.get("written")) or "", self.zone) or None,
            "by": self.author(named["by"], f"{path}.by") if named.get("by") else None,
            "status": status.casefold() if status else None,
            "replaces": text(named.get("replaces")),
            "replaces_reason": text(named.get("replaces_reason")),
        }
        if out["id"] is None or (status and out["status"] not in VISIT_STATUS):
            raise StructureError
        out.update(self.group(named, groups["visit"], path, (*VISIT, "client", "wounds")))
        if named.get("client") is not None:
            out["client"] = self.group(named["client"], groups["client"], f"{path}.client")
        entries = [self.entry(item, f"{path}.wounds[{i}]") for i, item in enumerate(_list(named.get("wounds")))]
        out["wounds"] = entries
        out["note"] = text(named.get("note"))
        return {key: value for key, value in out.items() if value}

    def author(self, raw: Json, path: str) -> dict[str, str] | None:
        if not isinstance(raw, dict):
            return {"name": found} if (found := text(raw)) else None
        return self.texts(raw, AUTHOR, path)

    def entry(self, raw: Json, path: str) -> dict[str, Json]:
        groups = catalogue().groups
        named = self.mapping(raw, ENTRY, path)
        out: dict[str, Json] = {"wound": text(named.get("wound"))}
        if out["wound"] is None:
            raise StructureError
        for key in ("assessment", "care"):
            if named.get(key) is not None:
                out[key] = self.group(named[key], groups[key], f"{path}.{key}")
        out["supplies"] = self.items(named.get("supplies"), groups["supply"], "item", f"{path}.supplies")
        if named.get("plan") is not None:
            out["plan"] = self.group(named["plan"], {**groups["plan"], **_NOTE}, f"{path}.plan")
        out["photos"] = self.items(named.get("photos"), groups["photo"], "file", f"{path}.photos")
        out["note"] = text(named.get("note"))
        return {key: value for key, value in out.items() if value}

    def items(self, raw: Json, concepts: Mapping[str, Concept], main: str, path: str) -> list[dict[str, Json]]:
        out = []
        for index, item in enumerate(_list(raw)):
            named = item if isinstance(item, dict) else {main: item}
            if found := self.group(named, concepts, f"{path}[{index}]"):
                out.append(found)
        return out


_NOTE = {
    "note": Concept(
        key="note",
        group="plan",
        label="Note",
        question="Anything else about the plan?",
        shape="text",
        resource="plan",
        codings=(),
        reads=(),
        role="optional",
        when=(),
        source="common practice, no source",
    )
}


def _list(raw: Json) -> list[Json]:
    if raw is None:
        return []
    if not isinstance(raw, list):
        raise StructureError
    return raw


def canonical(raw: Json) -> dict[str, Json]:
    """Return the canonical form of a record.

    Parameters
    ----------
    raw
        The record as decoded from JSON, YAML or CSV.

    Returns
    -------
    dict
        Keys in catalogue order, every leaf text, unknown keys under ``extra``.

    Raises
    ------
    StructureError
        When the structure is not that of a record.

    Examples
    --------
    >>> canonical({"woundfhir": 1, "patient": {"born": "1948-03"}, "colour": "blue"})["extra"][0]["place"]
    'colour'
    """
    return _Walk().record(raw)
