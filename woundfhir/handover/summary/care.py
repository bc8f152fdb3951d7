"""The newest dressing change as a recipe: its steps in order of application, and what is on the wound now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.handover.summary.facts import Items, newest_facts
from woundfhir.handover.summary.words import Fact, group_words, is_none, known, label, people, said

Json = Any
#: The step that takes off what the change before it put on.
_OFF = "removed"


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its concept, its name, and what was used.

    Attributes
    ----------
    text
        None where the change does not say; ``earlier`` is then the newest change that does.
    """

    key: str
    label: str
    text: str | None
    earlier: Fact | None = None


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
    care
        The change as written.
    """

    at: str | None
    by: str | None
    in_place: tuple[str, ...]
    removal: str | None
    steps: tuple[Step, ...]
    care: Mapping[str, Json]


def _steps_of() -> list[Concept]:
    """The steps in order of application (common practice, no source), from the skin outwards: by their rank."""
    return [concept for concept in catalogue().section("dressing", "care") if concept.key != _OFF]


def is_change(care: Mapping[str, Json]) -> bool:
    """Whether an entry's care holds a dressing change: something taken off or put on."""
    steps = [concept.key for concept in catalogue().section("dressing", "care") if concept.is_group]
    return any(known(care.get(key)) and not is_none(care[key]) for key in steps)


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
    for place in reversed(range(len(items))):
        visit, care = items[place]
        if is_change(care):
            off = catalogue().groups["care"][_OFF]
            removal = said(off, care[_OFF]) if _OFF in care else None
            steps = _steps(care, items[:place])
            return Recipe(visit.get("at"), people(visit.get("by")), _in_place(care), removal, steps, care)
    return None


def _steps(care: Mapping[str, Json], before: Items) -> tuple[Step, ...]:
    """Each step that is written; without words, what the next nurse needs or an earlier change had."""
    earlier = newest_facts(before, "care")
    answered = {c.page.front.missing for c in _steps_of() if c.page.front and c.key in care}
    out = []
    for concept in _steps_of():
        older = next(iter(earlier.get(concept.path, ())), None)
        needed = concept.is_group and concept.page.front is not None and concept.page.front.question == "dressing"
        if concept.key in care:
            out.append(Step(concept.key, label(concept), said(concept, care[concept.key])))
        elif concept.page.front is not None and concept.page.front.missing in answered:
            continue
        elif needed or (older is not None and concept.is_group):
            out.append(Step(concept.key, label(concept), None, older))
    return tuple(out)


def _in_place(care: Mapping[str, Json]) -> tuple[str, ...]:
    """What the next nurse finds, from the outside in: the thing, its size and number, not how it was put there."""
    out = []
    for concept in reversed([concept for concept in _steps_of() if concept.page.stays]):
        value = care.get(concept.key)
        items = value if isinstance(value, list) else [value] if isinstance(value, dict) and known(value) else []
        for item in items:
            words = group_words(concept, item, brief=True)
            if words and not is_none(item.get(concept.main or "")):
                out.append(words)
    return tuple(out)
