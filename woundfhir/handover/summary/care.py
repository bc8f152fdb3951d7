"""The newest dressing change as a recipe: its steps in order of application, and what is on the wound now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.handover.summary.words import Fact, group_words, is_none, known, people, said

Json = Any
Items = Sequence[tuple[dict[str, Json], Mapping[str, Json]]]

#: Steps in order of application (common practice, no source): from the skin outwards.
APPLIED = (
    "cleansing",
    "debridement",
    "periwound_protection",
    "packing",
    "primary_dressing",
    "secondary_dressing",
    "securement",
    "compression",
)
#: Steps without which the next nurse cannot repeat the change: said to be missing where they are.
_CORE = ("cleansing", "primary_dressing", "secondary_dressing", "securement")
_OUTSIDE_IN = ("compression", "securement", "secondary_dressing", "primary_dressing")


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its key in the catalogue, its name, and what was used; ``text`` is None where it is not written."""

    key: str
    label: str
    text: str | None


@dataclass(frozen=True, slots=True)
class Recipe:
    """The newest dressing change.

    Attributes
    ----------
    at, by
        When and by whom.
    in_place
        What it left on the wound, from the outside in; for packing see ``Packing``.
    removal
        How the dressing before it came off.
    steps
        What was done, in order of application.
    response
        How it was borne.
    """

    at: str | None
    by: str | None
    in_place: tuple[str, ...]
    removal: str | None
    steps: tuple[Step, ...]
    response: tuple[Fact, ...]


def is_change(care: Mapping[str, Json]) -> bool:
    """Whether an entry's care tells of a dressing change: something taken off or put on."""
    return any(known(care.get(key)) and not is_none(care[key]) for key in ("removed", *APPLIED))


def recipe(items: Items) -> Recipe | None:
    """Return the recipe of the newest dressing change in (visit, care), oldest first.

    Examples
    --------
    >>> care = {"securement": [{"method": "tubular bandage"}], "primary_dressing": [{"dressing": "foam dressing"}]}
    >>> made = recipe([({"at": "2026-03-02"}, care)])
    >>> [f"{step.label}: {step.text}" for step in made.steps][1:]
    ['Primary dressing: foam dressing', 'Secondary dressing: None', 'Securement: tubular bandage']
    >>> made.in_place
    ('tubular bandage', 'foam dressing')
    """
    for visit, care in reversed(items):
        if is_change(care):
            return Recipe(
                visit.get("at"),
                people(visit.get("by")),
                _in_place(care),
                _removal(care),
                _steps(care),
                response(visit, care),
            )
    return None


def _concept(key: str) -> Concept:
    return catalogue().groups["care"][key]


def _items(value: Json) -> list[Mapping[str, Json]]:
    return value if isinstance(value, list) else [value] if isinstance(value, dict) and known(value) else []


def _steps(care: Mapping[str, Json]) -> tuple[Step, ...]:
    out = []
    for key in APPLIED:
        if key in care:
            out.append(Step(key, _concept(key).label, said(_concept(key), care[key])))
        elif key == "secondary_dressing" and "no_secondary_reason" in care:
            reason = said(_concept("no_secondary_reason"), care["no_secondary_reason"])
            out.append(Step(key, _concept(key).label, f"none: {reason}"))
        elif key in _CORE:
            out.append(Step(key, _concept(key).label, None))
    return tuple(out)


#: What the next nurse finds: the thing, its size and its number, not how it was put there.
_THING = frozenset({"dressing", "method", "system", "size", "pieces", "layers"})


def _in_place(care: Mapping[str, Json]) -> tuple[str, ...]:
    out = []
    for key in _OUTSIDE_IN:
        concept = _concept(key)
        for item in _items(care.get(key)):
            words = group_words(concept, {k: v for k, v in item.items() if k in _THING})
            if words and not is_none(item.get(concept.main or "")):
                out.append(words)
    return tuple(out)


def _removal(care: Mapping[str, Json]) -> str | None:
    return said(_concept("removed"), care["removed"]) if known(care.get("removed")) else None


def response(visit: dict[str, Json], care: Mapping[str, Json]) -> tuple[Fact, ...]:
    """Return how a change was borne, field by field."""
    value = care.get("response")
    if not isinstance(value, dict) or not known(value):
        return ()
    concept = _concept("response")
    found = [Fact(f.label, said(f, value[key]), visit.get("at")) for key, f in concept.fields.items() if key in value]
    return tuple(found + ([Fact("Note", str(value["note"]), visit.get("at"))] if "note" in value else []))
