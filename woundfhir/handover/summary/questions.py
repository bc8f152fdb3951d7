"""The ten questions of a transfer, their answers out of the facts, and what the record leaves open.

The questions gather the nursing transfer list of RNAO (recommendation 4.1, discharge and transfer of care,
2007 and 2011) and what continuity needs beside it: last and next change, packing inside, compression with
the date of the limb pressure, supplies left, contact, serial sizes (common practice, no source). Which concept
answers which question, and what is missing without it, stands in the concept's entry (``front``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from woundfhir.catalogue import Concept, catalogue
from woundfhir.handover.summary.client import Summary
from woundfhir.handover.summary.words import Fact, long
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.handover.texts import say
from woundfhir.record.shapes import in_sentence


@dataclass(frozen=True, slots=True)
class Question:
    """One question of the transfer list.

    Attributes
    ----------
    key, title
        Its name, and the question as a nurse asks it.
    rules
        The entries of the transfer list that it answers.
    answers
        What the record says, most needed first.
    missing
        What it does not say.
    """

    key: str
    title: str
    rules: tuple[str, ...]
    answers: tuple[Fact, ...]
    missing: tuple[str, ...]


#: What a question yields: a Fact that answers it, or the words for what is missing.
Answers = Iterator[Fact | str]


def questions(given: Summary) -> tuple[Question, ...]:
    """Return the ten questions, answered as far as the facts go."""
    out = []
    for key, (rules, ask) in _QUESTIONS.items():
        found = [*ask(given), *_missing(given, key)]
        answers = tuple(item for item in found if isinstance(item, Fact))
        gaps = tuple(item for item in found if isinstance(item, str))
        out.append(Question(key, say(f"question.{key}"), rules, answers, gaps))
    return tuple(out)


def missing(given: Summary) -> tuple[str, ...]:
    """Return what the ten questions ask and the record does not answer: one line for each question."""
    return tuple(f"{asked.title} {'; '.join(asked.missing)}" for asked in questions(given) if asked.missing)


def _asked(key: str) -> Mapping[str, list[Concept]]:
    """What a question needs, in words -> the concepts any of which answers it."""
    found: dict[str, list[Concept]] = {}
    for concept in catalogue().concepts(fields=True):
        front = concept.page.front
        if front is not None and front.missing and (front.question == key or (key, front.question) == ("now", "grade")):
            found.setdefault(front.missing, []).append(concept)
    return found


def _missing(given: Summary, key: str) -> Iterator[str]:
    """Yield what a question needs and no fact answers: once for the client, or for each open wound."""
    for words, concepts in _asked(key).items():
        if any(concept.group == "client" for concept in concepts):
            if key == "history" and any(wound.closed_now for wound in given.wounds):
                continue
            held = any(_known(given.facts, c) or any(_has(w, c) for w in given.open_wounds) for c in concepts)
            yield from () if held else [words]
            continue
        when = next((c.page.front.when for c in concepts if c.page.front), "")
        for wound in given.open_wounds:
            if wound.is_a(when) and not any(_has(wound, concept) for concept in concepts):
                yield _about(wound, words)


def _known(facts: Mapping[str, tuple[Fact, ...]], concept: Concept) -> bool:
    return any(fact.known for fact in facts.get(concept.path, ()))


def _has(wound: WoundSummary, concept: Concept) -> bool:
    if concept.group == "supply":
        return bool(wound.left)
    if concept.page.section == "dressing":
        return wound.recipe is None or wound.recipe.entry.written(concept.path)
    return _known(wound.facts, concept) or _known(wound.brief, concept)


def _about(wound: WoundSummary, words: str) -> str:
    return say("missing.about", wound=wound.called, words=words)


def _of(wound: WoundSummary, facts: tuple[Fact, ...]) -> Iterator[Fact]:
    """The facts, with the wound that they are about."""
    yield from [replace(fact, label=in_sentence(fact.label), about=wound.id) for fact in facts]


def _next(given: Summary) -> Answers:
    for wound in given.open_wounds:
        if wound.next_change is None:
            yield _about(wound, say("missing.due"))
        else:
            day = long(wound.next_change.text)
            words = say("answer.next_by", day=day, who=wound.change_by.text) if wound.change_by else day
            yield Fact(say("answer.next"), words, wound.next_change.at, wound.id)
        if wound.change_by is None:
            yield _about(wound, say("missing.by"))
        if wound.last_change is None:
            yield _about(wound, say("missing.last"))
    if not given.wounds:
        yield say("missing.wound")


def packing_words(wound: WoundSummary) -> str | None:
    """Return the packing inside in words; None where the record does not answer the question."""
    if wound.packing.least is not None:
        return wound.packing.text
    return say("packing.no_space") if wound.no_deep_space else None


def _packing(given: Summary) -> Answers:
    for wound in given.open_wounds:
        words = packing_words(wound)
        if words is not None:
            yield Fact(say("answer.packing"), words, wound.packing.at, wound.id)
        if words is None or not (wound.packing.certain or wound.packing.least is None):
            yield _about(wound, say("missing.packing"))
        if wound.packing.most != 0 and wound.packing.least is not None and wound.packing.where is None:
            yield _about(wound, say("missing.packing_place"))


def _now(given: Summary) -> Answers:
    for wound in given.open_wounds:
        name = wound.name + (f", {wound.stage.text}" if wound.stage else "")
        yield Fact(say("answer.wound"), name, None, wound.id)
        if wound.size is not None:
            words = wound.size.text
            if wound.since_first:
                words = say("answer.sized", size=words, change=wound.since_first.dated)
            yield Fact(say("answer.size"), words, wound.size.at, wound.id)


def _dressing(given: Summary) -> Answers:
    for wound in given.open_wounds:
        if wound.recipe is None:
            yield _about(wound, say("missing.dressing"))
        else:
            on = say("answer.over").join(wound.recipe.in_place) or say("answer.nothing_on")
            yield Fact(say("answer.on"), on, wound.recipe.at, wound.id)
        yield from _of(wound, tuple(fact for fact in wound.front("dressing") if fact.path.startswith("plan.")))


def _allergies(given: Summary) -> Answers:
    yield from [Fact(say("answer.allergy"), allergy.text) for allergy in given.allergies]
    if not given.allergies:
        known = given.allergies_known == say("fact.none_known")
        yield Fact(say("answer.allergies"), say("fact.none_known")) if known else say("missing.allergies")


def _compression(given: Summary) -> Answers:
    found = [fact for wound in given.open_wounds for fact in _of(wound, wound.front("compression"))]
    yield from found
    if not found and not any(wound.is_a("lower limb") for wound in given.open_wounds):
        yield Fact(say("answer.compression"), say("answer.no_leg"))


def _history(given: Summary) -> Answers:
    for wound in given.wounds:
        yield from _of(wound, wound.front("history"))
    for wound in (wound for wound in given.wounds if wound.closed_now):
        form = "answer.closed_on" if wound.closed else "answer.closed_undated"
        yield Fact(say("answer.closed"), say(form, day=wound.closed, wound=wound.name), None, wound.id)
    yield from _client(given, "history")


def _client(given: Summary, key: str) -> Iterator[Fact]:
    """The facts about the client that answer a question."""
    concepts = sorted(catalogue().groups["client"].values(), key=lambda concept: concept.page.rank)
    for concept in concepts:
        if concept.page.front is not None and concept.page.front.question == key:
            yield from given.facts.get(concept.path, ())


def _pain(given: Summary) -> Answers:
    yield from _client(given, "pain")
    for wound in given.open_wounds:
        yield from _of(wound, wound.front("pain"))


def _risk(given: Summary) -> Answers:
    if given.conditions:
        yield Fact(say("answer.conditions"), ", ".join(given.conditions))
    elif given.conditions_known == say("fact.none_known"):
        yield Fact(say("answer.conditions"), given.conditions_known)
    else:
        yield say("missing.conditions")
    yield from _client(given, "risk")
    for wound in given.open_wounds:
        yield from _of(wound, wound.front("risk"))


def _people(given: Summary) -> Answers:
    yield from given.contacts or [say("missing.contact")]
    yield from [fact for fact in _client(given, "people") if fact not in given.contacts]
    for wound in given.open_wounds:
        yield from [replace(fact, about=wound.id) for fact in wound.left]


_QUESTIONS: Mapping[str, tuple[tuple[str, ...], Callable[[Summary], Answers]]] = {
    "next": (("XFR-LASTDRS",), _next),
    "packing": (("XFR-LASTDRS",), _packing),
    "now": (("XFR-CURRENT", "XFR-TREND"), _now),
    "dressing": (("XFR-CURRENT",), _dressing),
    "allergies": (("XFR-ALLERGY",), _allergies),
    "compression": (("XFR-LASTDRS",), _compression),
    "history": (("XFR-HISTORY", "XFR-HEALED"), _history),
    "pain": (("XFR-PAIN", "XFR-RESPONSE"), _pain),
    "risk": (("XFR-RISK", "XFR-SKIN", "XFR-DEVICES", "XFR-NUTR", "XFR-LABS"), _risk),
    "people": (("XFR-LASTDRS", "XFR-TEAM"), _people),
}
