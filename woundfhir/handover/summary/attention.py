"""What calls for attention: a hazard that an answer names, packing that does not add up, an allergy in use.

An answer counts until another one to the same question is written: a newer note that is silent does not hide an
older danger, and each stands with its day. What the free words of the newest note name stands beside, quoted, as the
checklist asks about it (rule SF06). The hazards and what is asked stand in the catalogue (``hazards.toml``);
which answers name them, with the answers.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from woundfhir.catalogue import ENTRY_GROUPS, Concept, catalogue
from woundfhir.catalogue.page import Hazard
from woundfhir.chart import EntryView, RecordView
from woundfhir.chart.allergies import allergies_met
from woundfhir.chart.asking import known
from woundfhir.chart.words import entry_of, flag_of, held, names_nothing
from woundfhir.checklist import free_words
from woundfhir.checklist.pages import cited
from woundfhir.handover.summary.words import Fact
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.handover.texts import say
from woundfhir.record import spoken
from woundfhir.record.shapes import shape_of

#: The end of a sentence.
_END = re.compile(r"[;\n!?]|\.(?=\s|$)")


@dataclass(frozen=True, slots=True)
class Alert:
    """One hazard of one wound, or of the client: what was charted, each with its day; ``hazard`` holds the question."""

    hazard: Hazard
    facts: tuple[Fact, ...]
    wound: str | None = None

    @property
    def source(self) -> str:
        """The source, and how sure it is."""
        return f"[{cited(self.hazard.source, self.hazard.mark)}]"


@dataclass(frozen=True, slots=True)
class _Answer:
    """The newest answer to one question, word by word as written."""

    concept: Concept
    words: tuple[str, ...]
    at: str | None

    def hazards(self) -> Iterator[tuple[str, str]]:
        """Yield (hazard, word) for each word that names one."""
        answers = self.concept.answers
        for word in self.words:
            for tag in sorted(self.tags(word)):
                if tag.startswith("hazard:"):
                    yield tag.removeprefix("hazard:"), word
            if self.concept.page.hazards:
                answer = {True: "yes", False: "no", None: word}[flag_of(self.concept, word)]
                if answer in self.concept.page.hazards:
                    yield self.concept.page.hazards[answer], word
            if (
                answers is not None
                and answers.other
                and not held(self.concept, word)
                and not answers.find(word)
                and not names_nothing(self.concept, word)
            ):
                yield answers.other, word

    def tags(self, word: str) -> frozenset[str]:
        """The tags of a word; of words that no list knows ("artery visible at the base") those that they hold."""
        entry = entry_of(self.concept, word)
        tags: frozenset[str] = frozenset()
        return tags.union(*(one.tags for one in ((entry,) if entry is not None else held(self.concept, word))))


def of_wound(wound: WoundSummary, allergies: Iterable[str]) -> list[Alert]:
    """Return what calls for attention about one wound since it (last) opened, most urgent first.

    Parameters
    ----------
    wound
        The facts of a wound that is open.
    allergies
        The names of the allergies that count.
    """
    allergies = list(allergies)
    found = _named(_answers(wound.view.episode, ENTRY_GROUPS))
    if wound.view.episode:
        newest = wound.view.episode[-1]
        _add_heard(found, free_words.of_entry(newest), newest.at, allergies)
    if not wound.packing.adds_up:
        words = "; ".join([wound.packing.count, *wound.packing.gaps[-2:]])
        found.setdefault("packing", []).append(Fact("", words, wound.packing.at))
    if wound.recipe is not None:
        met = list(_met(wound.recipe.entry, allergies))
        found.setdefault("allergy", []).extend(Fact("", words, wound.recipe.at) for words in met)
    return _alerts(found, wound.id)


def of_client(record: RecordView) -> list[Alert]:
    """Return what calls for attention about the whole person."""
    found = _named(_answers(record.counted, ("client",)))
    if record.counted:
        newest = record.counted[-1]
        names = [name for _, name in newest.patient.active_allergies]
        _add_heard(found, free_words.of_visit(newest), newest.at, names)
    return _alerts(found, None)


def _add_heard(
    found: dict[str, list[Fact]], texts: Iterable[free_words.Written], at: str | None, allergies: Iterable[str]
) -> None:
    """Add what free words of the newest note name, quoted, where no answer of that note names it.

    Those of older notes are of their own day.
    """
    for written, alarm in free_words.heard(texts, allergies):
        facts = found.setdefault(alarm.hazard.key, [])
        if not any(one.at == at for one in facts):
            words = say("attention.quoted", words=_sentence(written.text, alarm.start, alarm.end))
            facts.append(Fact(say("attention.in_words"), words, at))


def _sentence(text: str, start: int, end: int) -> str:
    """The sentence around a place, on one line."""
    before, after = _END.split(text[:start])[-1], _END.split(text[end:])[0]
    return " ".join((before + text[start:end] + after).split())


def _alerts(found: Mapping[str, list[Fact]], wound: str | None) -> list[Alert]:
    made = [Alert(catalogue().hazards[key], tuple(facts), wound) for key, facts in found.items() if facts]
    return sorted(made, key=lambda alert: alert.hazard.rank)


def _named(answers: Sequence[_Answer]) -> dict[str, list[Fact]]:
    found: dict[str, list[Fact]] = {}
    for answer in answers:
        by_hazard: dict[str, list[str]] = {}
        for hazard, word in answer.hazards():
            by_hazard.setdefault(hazard, []).append(_in_words(answer.concept, word))
        for hazard, words in by_hazard.items():
            found.setdefault(hazard, []).append(Fact(answer.concept.heading, ", ".join(words), answer.at))
    for together in (one for one in catalogue().hazards.values() if one.tags):
        counted = {
            tag: (answer, word)
            for answer in answers
            for word in answer.words
            for tag in answer.tags(word)
            if tag.startswith(together.tags)
        }
        if len(counted) >= together.least:
            signs = {_in_words(answer.concept, word): answer for answer, word in counted.values()}
            found[together.key] = [Fact(answer.concept.heading, word, answer.at) for word, answer in signs.items()]
    return found


def _in_words(concept: Concept, word: str) -> str:
    """One word of an answer in the language of the page; yes and no among them."""
    return spoken.flag(word) if concept.shape == "flag" else spoken.word(concept, word)


def _answers(notes: Sequence[Any], groups: Collection[str]) -> list[_Answer]:
    """The newest answer to each question of some groups, fields each by itself, in the order of the catalogue."""
    found: dict[str, _Answer] = {}
    for note in reversed(notes):
        here: dict[str, list[str]] = {}
        for leaf in note.leaves():
            if leaf.concept.group in groups and leaf.concept.path not in found and known(leaf.value):
                words = (word for _, word in shape_of(leaf.concept).named(leaf.concept, leaf.value))
                here.setdefault(leaf.concept.path, []).extend(words)
        found |= {
            path: _Answer(catalogue().concept(path), tuple(words), note.at) for path, words in here.items() if words
        }
    return [found[concept.path] for concept in catalogue().concepts(fields=True) if concept.path in found]


def _met(change: EntryView, allergies: Iterable[str]) -> Iterator[str]:
    """Yield the words for each allergy that may fit something which the newest change used, or which came off at it."""
    found = list(allergies_met(change.leaves(), allergies))
    used = dict.fromkeys((met.allergy, met.product) for met in found if not met.came_off)
    off = dict.fromkeys((met.allergy, met.product) for met in found if met.came_off)
    for allergy, product in used:
        yield say("attention.allergy", allergy=allergy, product=product)
    for allergy, product in off:
        if (allergy, product) not in used:
            yield say("attention.allergy_off", allergy=allergy, product=product)
