"""What calls for attention: a hazard that an answer names, packing that does not add up, an allergy in use.

An answer counts until another one to the same question is written: a newer note that is silent does not hide an
older danger, and each stands with its day. The hazards and what is asked stand in the catalogue (``hazards.toml``);
which answers name them, with the answers.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.catalogue.page import Hazard
from woundfhir.handover.summary.facts import Items, part
from woundfhir.handover.summary.words import Fact, is_none, known, label
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.handover.texts import say

Json = Any


@dataclass(frozen=True, slots=True)
class Alert:
    """One hazard of one wound, or of the client: what was charted, each with its day; ``hazard`` holds the question."""

    hazard: Hazard
    facts: tuple[Fact, ...]
    wound: str | None = None

    @property
    def source(self) -> str:
        """Who says so, and how sure that is."""
        known = self.hazard
        if known.source == known.mark:
            return say("attention.unsourced", mark=known.mark)
        return say("attention.source", source=known.source, mark=known.mark)


@dataclass(frozen=True, slots=True)
class _Leaf:
    """The newest answer to one question, word by word."""

    concept: Concept
    words: tuple[str, ...]
    at: str | None

    def hazards(self) -> Iterator[tuple[str, str]]:
        """Yield (hazard, word) for each word that names one."""
        answers = self.concept.answers
        for word in self.words:
            entry = answers.find(word) if answers else None
            named = (
                [tag.removeprefix("hazard:") for tag in sorted(entry.tags) if tag.startswith("hazard:")]
                if entry
                else []
            )
            if word in self.concept.page.hazards:
                named.append(self.concept.page.hazards[word])
            if answers is not None and answers.other and entry is None and not is_none(word):
                named.append(answers.other)
            yield from ((hazard, word) for hazard in named)

    def tags(self, beginning: str) -> Iterator[tuple[str, str]]:
        """Yield (tag, word) for each tag with this beginning."""
        answers = self.concept.answers
        for word in self.words if answers else ():
            entry = answers.find(word) if answers else None
            yield from ((tag, word) for tag in (entry.tags if entry else ()) if tag.startswith(beginning))


def of_wound(wound: WoundSummary, allergies: Iterable[str]) -> list[Alert]:
    """Return what calls for attention about one wound, most urgent first.

    Parameters
    ----------
    wound
        The facts of a wound that is open.
    allergies
        The names of the allergies that count.
    """
    leaves = [leaf for group in ("assessment", "care", "plan") for leaf in _leaves(part(wound.entries, group), group)]
    found = _named(leaves)
    if not wound.packing.adds_up:
        words = "; ".join([wound.packing.count, *wound.packing.gaps[-2:]])
        found.setdefault("packing", []).append(Fact("", words, wound.packing.at))
    if wound.recipe is not None:
        met = list(_met(wound.recipe.care, allergies))
        found.setdefault("allergy", []).extend(Fact("", words, wound.recipe.at) for words in met)
    return _alerts(found, wound.id)


def of_client(items: Items) -> list[Alert]:
    """Return what calls for attention about the whole person, out of (visit, answers), oldest first."""
    return _alerts(_named(list(_leaves(items, "client"))), None)


def _alerts(found: Mapping[str, list[Fact]], wound: str | None) -> list[Alert]:
    made = [Alert(catalogue().hazards[key], tuple(facts), wound) for key, facts in found.items() if facts]
    return sorted(made, key=lambda alert: alert.hazard.rank)


def _named(leaves: list[_Leaf]) -> dict[str, list[Fact]]:
    found: dict[str, list[Fact]] = {}
    for leaf in leaves:
        by_hazard: dict[str, list[str]] = {}
        for hazard, word in leaf.hazards():
            by_hazard.setdefault(hazard, []).append(word)
        for hazard, words in by_hazard.items():
            found.setdefault(hazard, []).append(Fact(label(leaf.concept), ", ".join(words), leaf.at))
    for together in (one for one in catalogue().hazards.values() if one.tags):
        counted = {tag: (leaf, word) for leaf in leaves for tag, word in leaf.tags(together.tags)}
        if len(counted) >= together.least:
            signs = {word: leaf for leaf, word in counted.values()}
            found[together.key] = [Fact(label(leaf.concept), word, leaf.at) for word, leaf in signs.items()]
    return found


def _leaves(items: Items, group: str) -> Iterator[_Leaf]:
    """The newest answer to each question of a group, fields each by itself."""
    for concept in catalogue().groups[group].values():
        for leaf in concept.fields.values() if concept.is_group else [concept]:
            newest = next(_answers(items, concept, leaf), None)
            if newest is not None:
                yield newest


def _answers(items: Items, concept: Concept, leaf: Concept) -> Iterator[_Leaf]:
    """The answers to one question, newest first."""
    for visit, answers in reversed(items):
        value = answers.get(concept.key)
        if concept.is_group and known(value):
            held = value if isinstance(value, list) else [value]
            values = [item[leaf.key] for item in held if isinstance(item, dict) and known(item.get(leaf.key))]
        else:
            values = [value] if known(value) and not concept.is_group else []
        if words := tuple(word for one in values for word in _words(one)):
            yield _Leaf(leaf, words, visit.get("at"))


def _words(value: Json) -> list[str]:
    return [value] if isinstance(value, str) else [word for word in value if isinstance(word, str)]


def _met(care: Mapping[str, Json], allergies: Iterable[str]) -> Iterator[str]:
    """Yield the words for each allergy that may fit something which the newest change used."""
    used = [leaf for leaf in _leaves([({}, {k: v for k, v in care.items() if k != "removed"})], "care") if leaf.words]
    for allergy in allergies:
        for leaf in used:
            for word in leaf.words:
                if _fits(allergy.casefold(), leaf.concept, word):
                    yield say("attention.allergy", allergy=allergy, product=word)


def _fits(allergy: str, concept: Concept, word: str) -> bool:
    """Whether a product may carry what an allergy names: by the tags of its word, or by its name."""
    entry = concept.answers.find(word) if concept.answers else None
    if concept.answers is None and concept.shape != "text":
        return False
    tags = entry.tags if entry else frozenset()
    names = " | ".join([word, *((entry.word, *entry.also) if entry else ())]).casefold()
    for substance, called in catalogue().pages.substances.items():
        if any(name in allergy for name in called) and (substance in tags or any(_holds(names, n) for n in called)):
            return True
    return _holds(names, allergy)


def _holds(text: str, name: str) -> bool:
    """Whether a text names a thing, and not its absence.

    Examples
    --------
    >>> _holds("roll bandage without tape on the skin", "tape"), _holds("paper tape", "tape")
    (False, True)
    """
    here = re.escape(name)
    without = rf"(?:\bnon-?\s?|\bno |\bnot |\bwithout |\bfree (?:of|from) ){here}|\b{here}[- ]free"
    return name in re.sub(without, "", text)
