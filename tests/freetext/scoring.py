"""Held against what a careful colleague would chart: right, missed and wrong readings, hazards asked and missed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from woundfhir.catalogue import catalogue
from woundfhir.freetext import Reading, read_text

Json = Any
#: The main field of a group, which a bare word fills.
MAIN = {
    "care.primary_dressing": "dressing",
    "care.secondary_dressing": "dressing",
    "care.securement": "method",
    "assessment.tunnels": "",
    "assessment.undermining": "",
}


def load(name: str = "texts.yaml") -> list[Json]:
    """The texts of a file, each with what is expected of it."""
    return list(yaml.safe_load((Path(__file__).parent / name).read_text("utf-8")))


def facts(expected: Json) -> Iterator[tuple[str, str]]:
    """Expected answers as (path, value), a group field by field."""
    for path, value in (expected or {}).items():
        for one in value if isinstance(value, list) else [value]:
            yield from _leaves(path, str(one))


def _leaves(path: str, text: str) -> Iterator[tuple[str, str]]:
    group, key, *inner = path.split(".")
    concept = catalogue().groups[group][key]
    if inner or not concept.is_group or text == "none":
        yield path, text
        return
    for part in text.split(", "):
        name, _, value = part.partition(" ")
        if name in concept.fields and value:
            yield f"{path}.{name}", value
        else:
            yield f"{path}.{MAIN[path]}", part


def read(one: Reading) -> Iterator[tuple[str, str]]:
    """A reading as (path, value), a group field by field, a share as one text."""
    if isinstance(one.value, str):
        yield one.path, one.value
    elif one.path == "assessment.tissue":
        yield from ((one.path, f"{word} {share}") for word, share in one.value.items())
    else:
        yield from ((f"{one.path}.{key}", value) for key, value in one.value.items())


@dataclass
class Score:
    """What one text gave."""

    name: str
    right: int = 0
    missed: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    likely: int = 0
    likely_wrong: list[str] = field(default_factory=list)
    asked: int = 0
    not_asked: list[str] = field(default_factory=list)
    asked_in_vain: list[str] = field(default_factory=list)


def score(case: Json) -> Score:
    """Read one text and count."""
    found = read_text(case["text"])
    expected, also = set(facts(case["facts"])), set(facts(case.get("also")))
    certain = {leaf for one in found.of("certain") for leaf in read(one)}
    likely = {leaf for one in found.of("likely") for leaf in read(one)}
    asked, must = {one.hazard.key for one in found.alarms}, set(case.get("ask", ()))
    return Score(
        case["name"],
        right=len(certain & expected),
        missed=sorted(f"{path}: {value}" for path, value in expected - certain),
        wrong=sorted(f"{path}: {value}" for path, value in certain - expected - also),
        likely=len(likely & (expected | also)),
        likely_wrong=sorted(f"{path}: {value}" for path, value in likely - expected - also),
        asked=len(asked & must),
        not_asked=sorted(must - asked),
        asked_in_vain=sorted(asked - must - set(case.get("may_ask", ()))),
    )
