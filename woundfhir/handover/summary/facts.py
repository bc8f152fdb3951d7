"""The newest answer to each question, in words and with its day; an older answer is never hidden by silence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart.asking import known
from woundfhir.chart.series import Series
from woundfhir.handover.summary.words import Fact, short
from woundfhir.handover.texts import say
from woundfhir.record.shapes import item_words, words

#: Notes of one wound, of the client, or the wound itself.
Notes = Series[Any]
Facts = Mapping[str, tuple[Fact, ...]]


def newest_facts(notes: Notes, group: str) -> dict[str, tuple[Fact, ...]]:
    """Return the newest answers of a group of the catalogue by the path of their concept.

    An answer stays the newest until another one is written; a later reason for no answer is added to it.

    Examples
    --------
    >>> from woundfhir.chart import open_record
    >>> from woundfhir.record import History
    >>> def seen(at, odour): return {"id": at, "at": at, "wounds": [{"wound": "W1", "assessment": {"odour": odour}}]}
    >>> visits = [seen("2026-03-01", "offensive"), seen("2026-03-05", {"absent": "declined"})]
    >>> raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": visits}
    >>> notes = open_record(History.of(raw)).wound("W1").series
    >>> newest_facts(notes, "assessment")["assessment.odour"][0].text
    'offensive (2026-03-01), and on 2026-03-05 not given: declined'
    """
    concepts = (concept for concept in catalogue().groups[group].values() if not concept.page.unprinted)
    return {concept.path: facts for concept in concepts if (facts := newest(notes, concept))}


def newest(notes: Notes, concept: Concept, *, brief: bool = False) -> tuple[Fact, ...]:
    """Return the newest answer of one concept, of each leg by itself where its entry says so; nothing unwritten.

    ``brief`` keeps only the fields of a group that a glance needs.
    """
    if concept.page.each and (each := _each(notes, concept, brief)):
        return each
    last = notes.newest_written(concept.path)
    if last is None:
        return ()
    answered = notes.newest_with(concept.path)
    fact = _fact(last if answered is None else answered, concept, brief)
    if answered is not None and answered is not last:
        later = say(
            "fact.later", words=fact.text, day=short(fact.at), later=short(last.at), absent=_words(last, concept)
        )
        fact = replace(fact, text=later, at=last.at)
    return (fact,) if fact.text else ()


def _fact(note: Any, concept: Concept, brief: bool = False) -> Fact:
    is_known = known(note.answer(concept.path))
    return Fact(concept.heading, _words(note, concept, brief), note.at, None, concept.path, is_known)


def _words(note: Any, concept: Concept, brief: bool = False) -> str:
    if brief and (items := note.items(concept.path)):
        return "; ".join(found for item in items if (found := item_words(concept, item.data, brief=True)))
    return words(concept, note.answer(concept.path))


def _each(notes: Notes, concept: Concept, brief: bool) -> tuple[Fact, ...]:
    """The newest item of each answer of one field (each leg), with its own day where one is written."""
    key, day = concept.page.each, concept.page.dated
    found: dict[str, Fact] = {}
    for note in notes.notes:
        for item in note.items(concept.path):
            own = item.data.get(day)
            which = words(concept.fields[key], item.data[key]) if key in item.data else ""
            name = say("fact.limb", label=concept.heading, item=which) if which else concept.heading
            text = item_words(concept, item.data, (key, day) if isinstance(own, str) else (key,), brief=brief)
            at = own if isinstance(own, str) else note.at
            found[which] = Fact(name, text or say("fact.not_written"), at, None, concept.path, bool(text))
    return tuple(found.values())


def section(facts: Facts, key: str, *groups: str) -> tuple[Fact, ...]:
    """Return the facts of a section of the page, by rank; of the named groups, or of all."""
    concepts = [c for c in catalogue().section(key) if not groups or c.group in groups]
    return tuple(fact for concept in concepts for fact in facts.get(concept.path, ()))
