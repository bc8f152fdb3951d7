"""One wound, as the next nurse finds it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart import open_record
from woundfhir.handover.summary.care import Recipe, recipe
from woundfhir.handover.summary.course import Change, Size, measured
from woundfhir.handover.summary.facts import Facts, Items, brief_facts, newest_facts, part, section
from woundfhir.handover.summary.packing import Packing, packing
from woundfhir.handover.summary.words import Fact, field_words, is_none, known, label, said
from woundfhir.handover.texts import say
from woundfhir.measures.course import course
from woundfhir.record import History

Json = Any
Entries = Sequence[tuple[dict[str, Json], dict[str, Json]]]


@dataclass(frozen=True, slots=True)
class WoundSummary:
    """One wound, as the next nurse finds it.

    Attributes
    ----------
    id, status, kind, site, side, place, closed
        As written; None where not written.
    size, first
        Newest and first measurement.
    since_first, since_last
        Change of area, None with fewer than two measurements.
    recipe, packing, last_change
        The newest dressing change, the pieces of packing inside, the time of that change.
    next_change, change_by
        As planned at the newest dressing change or after it: an older plan is no longer due.
    facts
        The newest answer to each question about the wound, by the path of its concept.
    brief
        The same in short, for what a glance needs less of.
    supplies, left
        Every supply with its newest entry; what is left in the home.
    seen
        The newest note about it.
    entries
        (visit, entry) of every note that counts, oldest first.
    """

    id: str
    status: str
    kind: str | None
    site: str | None
    side: str | None
    place: str | None
    closed: str | None
    size: Size | None
    first: Size | None
    since_first: Change | None
    since_last: Change | None
    recipe: Recipe | None
    packing: Packing
    last_change: str | None
    next_change: Fact | None
    change_by: Fact | None
    facts: Facts
    brief: Facts
    supplies: tuple[Fact, ...]
    left: tuple[Fact, ...]
    seen: str | None
    entries: Entries = field(compare=False, repr=False)

    @property
    def name(self) -> str:
        """Kind, side, site and place in one line."""
        found = [
            self.kind or say("fact.kind_missing"),
            " ".join(part for part in (self.side, self.site) if part),
            self.place,
        ]
        return ", ".join(part for part in found if part)

    @property
    def stage(self) -> Fact | None:
        """The newest stage, type or depth: of an assessment, else of the wound itself."""
        found = sorted(self.front("grade"), key=lambda fact: fact.path.startswith("wound."))
        return next((fact for fact in found if fact.known), None)

    @property
    def closed_now(self) -> bool:
        """Whether the wound is charted as closed."""
        return self.status == "closed" or self.closed is not None

    def fact(self, path: str) -> Fact | None:
        """Return the newest answer of one concept, the reason for no answer, or None."""
        return next(iter(self.facts.get(path, ())), None)

    def section(self, key: str, *groups: str) -> tuple[Fact, ...]:
        """Return the facts of a section of the page, by rank."""
        return section(self.facts, key, *groups)

    def front(self, question: str) -> tuple[Fact, ...]:
        """Return the facts that answer a question of the first page, in short."""
        found: list[Fact] = []
        for concept in catalogue().concepts(fields=True):
            if concept.page.front is not None and concept.page.front.question == question:
                found += self.brief.get(concept.path, self.facts.get(concept.path, ()))
        return tuple(found)

    def is_a(self, tag: str) -> bool:
        """Whether kind or site of the wound carry a tag, such as ``lower limb`` or ``pressure``."""
        answers = catalogue().answers
        found = (answers["wound_kind"].find(self.kind), answers["body_site"].find(self.site))
        return not tag or any(word is not None and tag in word.tags for word in found)

    @property
    def no_deep_space(self) -> bool:
        """Whether the newest notes say that there is neither undermining nor a tunnel."""
        found = [self.fact(path) for path in ("assessment.undermining", "assessment.tunnels")]
        return all(fact is not None and is_none(fact.text) for fact in found)


def wound_summary(history: History, raw: dict[str, Json]) -> WoundSummary:
    """Return the facts of one wound.

    Parameters
    ----------
    history
        The record with the notes that count alone, oldest first.
    raw
        The wound.
    """
    wound = open_record(history).wound(raw["id"])
    seen = [(entry.visit.data, entry.data) for entry in wound.entries]
    cares = part(seen, "care")
    sized = measured(part(seen, "assessment"), course(wound.record, raw["id"]))
    last = wound.last_change
    due = newest_facts(part(seen[wound.due_from :], "plan"), "plan")
    facts, brief = _facts(raw, seen)
    supplies = _supplies(seen)
    words = {
        key: said(concept, raw[key]) if known(raw.get(key)) else None
        for key, concept in catalogue().groups["wound"].items()
    }
    return WoundSummary(
        id=raw["id"],
        status=raw.get("status", "open"),
        **{key: words[key] for key in ("kind", "site", "side", "place", "closed")},
        size=sized.size,
        first=sized.first,
        since_first=sized.since_first,
        since_last=sized.since_last,
        recipe=recipe(cares),
        packing=packing(cares),
        last_change=None if last is None else last.visit.at,
        next_change=_answered(due, "plan.next_change"),
        change_by=_answered(due, "plan.change_by"),
        facts=facts,
        brief=brief,
        supplies=tuple(fact for fact, _ in supplies),
        left=tuple(left for _, left in supplies if left is not None),
        seen=seen[-1][0].get("at") if seen else None,
        entries=seen,
    )


def _answered(facts: Facts, path: str) -> Fact | None:
    return next((fact for fact in facts.get(path, ()) if fact.known), None)


def _facts(raw: dict[str, Json], seen: Entries) -> tuple[Facts, Facts]:
    """The newest answers about a wound, fields that answer a question of the first page too; and those in short."""
    found = dict(newest_facts([({}, raw)], "wound"))
    brief: dict[str, tuple[Fact, ...]] = {}
    for group in ("assessment", "care", "plan"):
        items = part(seen, group)
        found.update(newest_facts(items, group))
        for concept in catalogue().groups[group].values():
            if concept.path in found and any(field.page.brief for field in concept.fields.values()):
                brief[concept.path] = brief_facts(items, concept)
            for one in concept.fields.values():
                if one.page.front is not None:
                    brief[one.path] = _of_field(items, concept, one)
    return found, {path: facts for path, facts in brief.items() if facts}


def _of_field(items: Items, concept: Concept, one: Concept) -> tuple[Fact, ...]:
    """The newest answer of one field of a group that is written once in a note."""
    for visit, answers in reversed(items):
        value = answers.get(concept.key)
        if isinstance(value, dict) and known(value.get(one.key)):
            return (Fact(label(one), said(one, value[one.key]), visit.get("at"), None, one.path),)
    return ()


def _supplies(seen: Entries) -> list[tuple[Fact, Fact | None]]:
    """Each item of each size with its newest entry, and what is left of it."""
    fields = catalogue().groups["supply"]
    found: dict[tuple[str, str], tuple[Fact, Fact | None]] = {}
    for visit, entry in seen:
        for item in entry.get("supplies", ()):
            name = said(fields["item"], item["item"]) if known(item.get("item")) else say("fact.item_missing")
            size = said(fields["size"], item["size"]) if "size" in item else ""
            title = f"{name}, {size}" if size else name
            rest = [
                c for c in catalogue().section("supplies", "supply") if c.key in item and c.key not in ("item", "size")
            ]
            words = ", ".join(field_words(c, item[c.key]) for c in rest)
            fact = Fact(title, words or say("fact.not_written"), visit.get("at"), None, "supply.item", bool(words))
            left = item.get("left")
            older = found.get((name, size), (None, None))[1]
            kept = Fact(title, str(left), visit.get("at"), None, "supply.left") if isinstance(left, str) else older
            found[name, size] = (fact, kept)
    return list(found.values())


def photos(entries: Entries) -> tuple[Fact, ...]:
    """Return the photos of the newest note that has some, in words."""
    for visit, entry in reversed(entries):
        if shown := entry.get("photos"):
            fields = catalogue().section("photos", "photo")
            words: list[str] = []
            for photo in shown:
                given: Mapping[str, Json] = photo
                words.append(", ".join(field_words(c, given[c.key]) for c in fields if c.key in given))
            return tuple(Fact(say("fact.photo"), text, visit.get("at")) for text in words if text)
    return ()
