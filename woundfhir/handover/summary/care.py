"""The newest dressing change as a recipe: its steps in order of application, and what is on the wound now."""

from __future__ import annotations

from dataclasses import dataclass

from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart import EntryView, WoundView
from woundfhir.chart.series import Series
from woundfhir.chart.steps import changed
from woundfhir.handover.summary.facts import newest
from woundfhir.handover.summary.words import Fact, people
from woundfhir.record.shapes import item_words, words

#: The step that takes off what the change before it put on.
REMOVED = "care.removed"


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
    entry
        The change as written.
    in_place
        What it left on the wound, from the outside in; for packing see ``Packing``.
    steps
        What was done, in order of application.
    """

    entry: EntryView
    in_place: tuple[str, ...]
    steps: tuple[Step, ...]

    @property
    def at(self) -> str | None:
        """When, as written."""
        return self.entry.at

    @property
    def by(self) -> str | None:
        """By whom."""
        return people(self.entry.visit.by)

    @property
    def removal(self) -> str | None:
        """How the dressing before it came off."""
        answer = self.entry.answer(REMOVED)
        return None if answer is None else words(catalogue().concept(REMOVED), answer)


def _steps_of() -> list[Concept]:
    """The steps in order of application (common practice, no source), from the skin outwards: by their rank."""
    return [concept for concept in catalogue().section("dressing", "care") if concept.path != REMOVED]


def recipe(wound: WoundView) -> Recipe | None:
    """Return the recipe of the newest dressing change since the wound (last) opened, or None.

    Examples
    --------
    >>> from woundfhir.chart import open_record
    >>> from woundfhir.record import History
    >>> care = {"securement": [{"method": "tubular bandage"}], "primary_dressing": [{"dressing": "foam dressing"}]}
    >>> visits = [{"id": "V1", "at": "2026-03-02", "wounds": [{"wound": "W1", "care": care}]}]
    >>> raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": visits}
    >>> made = recipe(open_record(History.of(raw)).wound("W1"))
    >>> [f"{step.label}: {step.text}" for step in made.steps][1:]
    ['Primary dressing: foam dressing', 'Secondary dressing: None', 'Securement: tubular bandage']
    >>> made.in_place
    ('tubular bandage', 'foam dressing')
    """
    entry = wound.now.newest_that(changed)
    if entry is None:
        return None
    before = Series([one for one in wound.episode if one.nth < entry.nth])
    return Recipe(entry, _in_place(entry), _steps(entry, before))


def _steps(entry: EntryView, before: Series[EntryView]) -> tuple[Step, ...]:
    """Each step that is written; without words, what the next nurse needs or an earlier change had."""
    answered = {c.page.front.missing for c in _steps_of() if c.page.front and entry.written(c.path)}
    out = []
    for concept in _steps_of():
        front = concept.page.front
        if entry.written(concept.path):
            out.append(Step(concept.key, concept.heading, words(concept, entry.answer(concept.path))))
        elif concept.is_group and not (front is not None and front.missing in answered):
            older = next(iter(newest(before, concept)), None)
            if older is not None or (front is not None and front.question == "dressing"):
                out.append(Step(concept.key, concept.heading, None, older))
    return tuple(out)


def _in_place(entry: EntryView) -> tuple[str, ...]:
    """What the next nurse finds, from the outside in: the thing, its size and number, not how it was put there."""
    layers = (concept for concept in reversed(_steps_of()) if concept.page.stays)
    items = ((concept, item) for concept in layers for item in entry.items(concept.path))
    shown = (item_words(c, item.data, brief=True) for c, item in items if c.main is None or not item.none(c.main))
    return tuple(found for found in shown if found)
