"""The newest answer to each question, in words and with its day; an older answer is never hidden by silence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.handover.summary.words import Fact, group_words, known, label, said, short
from woundfhir.handover.texts import say

Json = Any
#: (visit, answers), oldest first.
Items = Sequence[tuple[dict[str, Json], Mapping[str, Json]]]
Facts = Mapping[str, tuple[Fact, ...]]


def part(items: Items, key: str) -> list[tuple[dict[str, Json], Mapping[str, Json]]]:
    """Return (visit, answers of one part of the entry), for the entries that have it."""
    return [(visit, entry[key]) for visit, entry in items if entry.get(key)]


def newest_facts(items: Items, group: str) -> dict[str, tuple[Fact, ...]]:
    """Return the newest answers of a group of the catalogue by the path of their concept.

    An answer stays the newest until another one is written; a later reason for no answer is added to it.

    Examples
    --------
    >>> first = ({"at": "2026-03-01"}, {"odour": "offensive"})
    >>> second = ({"at": "2026-03-05"}, {"odour": {"absent": "declined"}})
    >>> newest_facts([first, second], "assessment")["assessment.odour"][0].text
    'offensive (2026-03-01), and on 2026-03-05 not given: declined'
    """
    found = {}
    for concept in catalogue().groups[group].values():
        facts = _each(items, concept) if concept.page.each else _newest(items, concept)
        if facts and not concept.page.unprinted:
            found[concept.path] = facts
    return found


def _newest(items: Items, concept: Concept) -> tuple[Fact, ...]:
    silent: Fact | None = None
    for visit, answers in reversed(items):
        value = answers.get(concept.key)
        if value is None:
            continue
        fact = Fact(label(concept), said(concept, value), visit.get("at"), None, concept.path, known(value))
        if fact.known:
            return (_later(fact, silent),)
        silent = silent or fact
    return (silent,) if silent else ()


def _later(fact: Fact, silent: Fact | None) -> Fact:
    """The fact, with the later note that gives a reason for no answer."""
    if silent is None:
        return fact
    later, day = short(silent.at), short(fact.at)
    words = say("fact.later", words=fact.text, day=day, later=later, absent=silent.text)
    return replace(fact, text=words, at=silent.at)


def _each(items: Items, concept: Concept) -> tuple[Fact, ...]:
    """The newest item of each answer of one field (each leg), with its own day where one is written."""
    key, day = concept.page.each, concept.page.dated
    found: dict[str, Fact] = {}
    for visit, answers in items:
        value = answers.get(concept.key)
        for item in value if isinstance(value, list) else []:
            own = item[day] if isinstance(item.get(day), str) else visit.get("at")
            which = said(concept.fields[key], item[key]) if key in item else ""
            name = say("fact.limb", label=label(concept), item=which) if which else label(concept)
            words = group_words(concept, item, (key, day) if isinstance(item.get(day), str) else (key,))
            found[which] = Fact(name, words or say("fact.not_written"), own, None, concept.path, bool(words))
    return tuple(found.values()) or _newest(items, concept)


def brief_facts(items: Items, concept: Concept) -> tuple[Fact, ...]:
    """Return the newest answers of a group with only the fields that a glance needs."""
    keys = [key for key, field in concept.fields.items() if field.page.brief]
    kept = []
    for visit, answers in items:
        value = answers.get(concept.key)
        if isinstance(value, list):
            value = [_only(item, keys) for item in value]
        elif isinstance(value, dict) and known(value):
            value = _only(value, keys)
        kept.append((visit, {**answers, concept.key: value} if value is not None else answers))
    return _each(kept, concept) if concept.page.each else _newest(kept, concept)


def _only(item: Mapping[str, Json], keys: Iterable[str]) -> dict[str, Json]:
    return {key: item[key] for key in keys if key in item}


def section(facts: Facts, key: str, *groups: str) -> tuple[Fact, ...]:
    """Return the facts of a section of the page, by rank; of the named groups, or of all."""
    concepts = [c for c in catalogue().section(key) if not groups or c.group in groups]
    return tuple(fact for concept in concepts for fact in facts.get(concept.path, ()))
