"""What a nurse wrote in words of her own: notes, free answers, words that no list knows, reasons, texts of actions."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from woundfhir.catalogue import Concept, catalogue, per_catalogue
from woundfhir.chart.views import EntryView, VisitView
from woundfhir.chart.words import entry_of, held, names_nothing
from woundfhir.checklist.pages import common
from woundfhir.freetext import Alarm, hazards_in

Json = Any
#: Answers in free words that are about another day, another person, or what may happen.
_NOT_OF_NOW = frozenset(
    (
        "client.advance_notice",
        "client.equipment_needed",
        "client.goals_of_client",
        "client.healed_wounds",
        "client.history",
        "client.medicines",
        "client.next_contact",
        "client.nutrition_plan",
        "client.smoking",
        "client.teach_back",
        "client.teaching",
        "client.team",
        "client.tetanus",
        "assessment.carried",
        "care.negative_pressure.alarm_contact",
        "care.response.teaching",
        "plan.aftercare",
        "plan.bleeding_plan",
        "plan.dignity_plan",
        "plan.glucose_plan",
        "plan.goal",
        "plan.odour_plan",
        "plan.order",
        "plan.pain_plan",
        "plan.refusal.explained",
    )
)
_IN_WORDS = frozenset(("text", "choice", "choices"))


class Written(NamedTuple):
    """Words of a note, their place in the record, and the hazards that the list there is read for in any words."""

    path: str
    text: str
    listed: frozenset[str] = frozenset()


def of_entry(entry: EntryView) -> Iterator[Written]:
    """Yield the free words of one wound at one visit."""
    yield from _note(entry.data, entry.path())
    for group in ("assessment", "care", "plan"):
        yield from _walk(catalogue().groups[group], entry.data.get(group, {}), f"{entry.path()}.{group}")


def of_visit(visit: VisitView) -> Iterator[Written]:
    """Yield the free words about the whole client; those of its wounds are not among them."""
    yield from _note(visit.data, visit.path())
    yield from _walk(catalogue().groups["client"], visit.data.get("client", {}), f"{visit.path()}.client")


def heard(texts: Iterable[Written], allergies: Iterable[str]) -> Iterator[tuple[Written, Alarm]]:
    """Yield the hazards of free words, but for those that the place is read for as coded answers are.

    Parameters
    ----------
    texts
        What ``of_entry`` or ``of_visit`` gives.
    allergies
        The names of the client's allergies that count: these are compared with what is used, and not asked about here.
    """
    known = [name.casefold() for name in allergies if name]
    for written in texts:
        low = written.text.casefold()
        for alarm in hazards_in(written.text):
            key = alarm.hazard.key
            if key not in written.listed and not (key == "allergy" and any(name in low for name in known)):
                yield written, alarm


def note_about(entry: EntryView, key: str) -> bool:
    """Whether the note of a wound speaks of a matter (a key of ``note_words``), and so may explain what is asked."""
    text = entry.data.get("note")
    return isinstance(text, str) and re.search(common("note_words")[key], text, re.I | re.X) is not None


def _note(data: Mapping[str, Json], place: str) -> Iterator[Written]:
    if isinstance(text := data.get("note"), str):
        yield Written(f"{place}.note", text)


def _walk(concepts: Mapping[str, Concept], answers: Json, place: str) -> Iterator[Written]:
    if not isinstance(answers, dict):
        return
    yield from _note(answers, place)
    for key, value in answers.items():
        concept = concepts.get(key)
        if concept is None or concept.path in _NOT_OF_NOW:
            continue
        for number, one in enumerate(value if isinstance(value, list) else [value]):
            where = f"{place}.{key}[{number}]" if isinstance(value, list) and concept.fields else f"{place}.{key}"
            if isinstance(one, str):
                if _own_words(concept, one):
                    yield Written(where, one, _listed(concept) if _read(concept, one) else frozenset())
            elif isinstance(one, dict):
                if isinstance(reason := one.get("absent"), str):
                    yield Written(where, reason)
                yield from _walk(concept.fields, one, where)


def _read(concept: Concept, text: str) -> bool:
    """Whether words that no list knows are read as words of the list that they hold, or as none."""
    return bool(held(concept, text)) or names_nothing(concept, text)


@per_catalogue()
def _listed(concept: Concept) -> frozenset[str]:
    """The hazards that words of a list name: what holds one of these is read as it (``chart/words.py``)."""
    words = concept.answers.words if concept.answers is not None else ()
    tags = (tag.partition(":") for word in words for tag in word.tags)
    named = {alarm.hazard.key for word in words for alarm in hazards_in(word.word)}
    return frozenset(named | {name for head, _, name in tags if head == "hazard"})


def _own_words(concept: Concept, text: str) -> bool:
    """Whether an answer is no word of its list, number or day."""
    return concept.shape in _IN_WORDS and entry_of(concept, text) is None
