"""The order of work at the bedside: which answers are asked together, and which may be taken over with one touch."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from woundfhir.catalogue import Concept, catalogue, per_catalogue
from woundfhir.newnote.asked import data
from woundfhir.page.answers import MARKS, NOTE, PLAN_NOTE, RAW, SUPPLIES, concept_of
from woundfhir.page.draft import REASON, VISIT

#: Written by the page itself: which answers were taken over.
CARRIED = "assessment.carried"


@dataclass(frozen=True, slots=True)
class Group:
    """Answers that are confirmed or changed together.

    Attributes
    ----------
    key
        Its name; its title stands in ``texts/``.
    paths
        Of its concepts, or of one field of a step.
    again
        Whether the last note's answers may be taken over with one touch.
    empties
        Whether "changed" opens empty fields, else the last answers.
    always
        Whether it is shown even where nothing asks for it.
    when
        ``packed``: only where packing may be inside, and then a counter for each piece of it.
    care
        Whether it is part of "everything as last time".
    settles
        Whether it is shown in one line once all of it is answered.
    """

    key: str
    paths: tuple[str, ...]
    again: bool = False
    empties: bool = False
    always: bool = False
    when: str = ""
    care: bool = False
    settles: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the work."""

    key: str
    groups: tuple[Group, ...]


def _data() -> dict[str, Any]:
    return tomllib.loads((files("woundfhir.page") / "data" / "bedside.toml").read_text("utf-8"))


@per_catalogue()
def steps() -> tuple[Step, ...]:
    """Return the steps in order; every concept of a visit stands in one group, a site's own ones too.

    Examples
    --------
    >>> [step.key for step in steps()][:4]
    ['visit', 'off', 'cleanse', 'look']
    """
    raw = _data()["steps"]
    taken = {path for step in raw for group in step["groups"] for path in group["answers"]} | {CARRIED}
    return tuple(Step(step["key"], tuple(_group(one, taken) for one in step["groups"])) for step in raw)


def _group(raw: dict[str, Any], taken: set[str]) -> Group:
    paths: list[str] = []
    for path in raw["answers"]:
        if path.endswith(".*"):
            prefix = path[:-2]
            paths += [f"{prefix}.{key}" for key in catalogue().groups[prefix] if f"{prefix}.{key}" not in taken]
        else:
            paths.append(path)
    return Group(
        raw["key"],
        tuple(paths),
        again=raw.get("again", False),
        empties=raw.get("changed") == "empty",
        always=raw.get("always", False),
        when=raw.get("when", ""),
        care=raw.get("care", False),
        settles=raw.get("settles", False),
    )


def groups() -> Iterator[Group]:
    """Yield the groups of all steps."""
    for step in steps():
        yield from step.groups


def group(key: str) -> Group | None:
    """Return a group by its key."""
    return next((one for one in groups() if one.key == key), None)


def scope_of(path: str, wound: str) -> str:
    """Return where a draft holds the answers of a concept: with the wound, or with the visit."""
    return VISIT if path.partition(".")[0] in ("visit", "client") else wound


@per_catalogue()
def never_again() -> frozenset[str]:
    """Return the paths of what must be seen, counted, measured or felt anew."""
    return frozenset(_data()["again"]["never"])


def seen_anew(name: str) -> bool:
    """Whether a field of a form holds something that is never taken from an earlier note.

    Examples
    --------
    >>> seen_anew("assessment.infection_signs"), seen_anew("care.packing[0].material")
    (True, True)
    >>> seen_anew("care.securement[0].method")
    False
    >>> seen_anew("assessment.length~"), seen_anew("supplies[0].lot")
    (True, True)
    """
    parts = name.rstrip(MARKS).split(".")
    plain = [part.partition("[")[0] for part in parts]
    whole, field = (
        (plain[0], ".".join(plain[:2])) if plain[0] == SUPPLIES else (".".join(plain[:2]), ".".join(plain[:3]))
    )
    return whole in never_again() or field in never_again()


def stable_paths() -> frozenset[str]:
    """Return the paths of stable facts: a new note carries them wherever it asks for them (``woundfhir new`` too)."""
    carried: dict[str, list[str]] = data()["carried"]
    found = {f"{group}.{key}" for group, keys in carried.items() for key in keys}
    return frozenset(found - {path for group in groups() if group.key == "next" for path in group.paths})


def on_a_form(name: str) -> bool:
    """Whether a form may send a field of this name: what it answers is known, and it is none that is kept as it is.

    Examples
    --------
    >>> on_a_form("care.packing[0].length~"), on_a_form("visit.reason"), on_a_form("assessment.tissue=")
    (True, True, False)
    >>> on_a_form("patient.name"), on_a_form("care.packing[99999].length")
    (False, False)
    """
    if name in (NOTE, PLAN_NOTE, REASON, "visit.note"):
        return True
    if name.endswith(RAW) or re.search(r"\[(?!\d{1,3}\])", name):
        return False
    path = concept_of(name)
    return path == SUPPLIES or any(path in group.paths or name.startswith(group.paths) for group in groups())


def concept_at(path: str) -> Concept | None:
    """Return the concept of a path of a group; None for the supplies, which are a list of the note itself."""
    return None if path == SUPPLIES else catalogue().concept(".".join(path.split(".")[:2]))
