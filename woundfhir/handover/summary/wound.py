"""One wound, as the next nurse finds it."""

from __future__ import annotations

from functools import cached_property

from woundfhir.catalogue import ENTRY_GROUPS, Concept, catalogue
from woundfhir.chart import WoundView
from woundfhir.chart.asking import known
from woundfhir.chart.series import Series
from woundfhir.handover.course import course_of
from woundfhir.handover.summary.care import Recipe, recipe
from woundfhir.handover.summary.course import Change, Size, Sizes, sizes
from woundfhir.handover.summary.facts import Facts, newest, newest_facts, section
from woundfhir.handover.summary.packing import Packing, packing
from woundfhir.handover.summary.words import Fact
from woundfhir.handover.texts import say
from woundfhir.measures.course import Course
from woundfhir.record.shapes import field_words, words
from woundfhir.record.spoken import placed


class WoundSummary:
    """One wound, as the next nurse finds it; worked out as far as somebody asks.

    What lies on the wound, in it and around it is taken from the notes since it (last) opened: what was charted
    before a closure is no present fact, and stands in ``before``.

    Parameters
    ----------
    view
        The wound in an open record.
    """

    def __init__(self, view: WoundView) -> None:
        self.view = view
        self.id = view.id
        #: What it is called where something is missing: its id, in a message a plain label or its position.
        self.called = view.id
        self.status = view.status or "open"

    def _written(self, key: str) -> str | None:
        concept, answer = self.view.find(f"wound.{key}")
        return words(concept, answer) if known(answer) else None

    @cached_property
    def closed(self) -> str | None:
        """The day on which it closed, as written."""
        return self._written("closed")

    @cached_property
    def name(self) -> str:
        """Kind, side, site and place in one line."""
        side, site = (self.view.answer(f"wound.{key}") for key in ("side", "site"))
        found = [self._written("kind") or say("fact.kind_missing"), placed(side, site), self._written("place")]
        return ", ".join(part for part in found if part)

    # -- size --------------------------------------------------------------------------------------

    @cached_property
    def course(self) -> Course:
        """Its course, with the cut-offs of the policy that holds."""
        return course_of(self.view.record, self.id)

    @cached_property
    def sizes(self) -> Sizes:
        """Newest and first size, and the change between them."""
        return sizes(self.view.episode, self.course)

    @property
    def size(self) -> Size | None:
        """The newest size."""
        return self.sizes.size

    @property
    def since_first(self) -> Change | None:
        """The change of area since the first size, None with fewer than two."""
        return self.sizes.since_first

    @property
    def since_last(self) -> Change | None:
        """The change of area since the size before the newest, None with fewer than two."""
        return self.sizes.since_last

    # -- care and plan -----------------------------------------------------------------------------

    @cached_property
    def recipe(self) -> Recipe | None:
        """The newest dressing change."""
        return recipe(self.view)

    @cached_property
    def packing(self) -> Packing:
        """The pieces of packing inside."""
        return packing(self.view.episode)

    @property
    def last_change(self) -> str | None:
        """The time of the newest dressing change, as written."""
        return None if self.recipe is None else self.recipe.at

    @property
    def next_change(self) -> Fact | None:
        """The next change, as planned at the newest one or after it: an older plan is no longer due."""
        return self._planned("next_change")

    @property
    def change_by(self) -> Fact | None:
        """Who does the next change."""
        return self._planned("change_by")

    def _planned(self, key: str) -> Fact | None:
        entry = self.view.planned(key)
        return None if entry is None else next(iter(newest(Series([entry]), catalogue().concept(f"plan.{key}"))), None)

    # -- facts -------------------------------------------------------------------------------------

    @cached_property
    def facts(self) -> Facts:
        """The newest answer to each question about the wound, by the path of its concept."""
        found = newest_facts(Series([self.view]), "wound")
        for group in ENTRY_GROUPS:
            found.update(newest_facts(self.view.now, group))
            for concept in _lasting(group):
                if facts := newest(self.view.series, concept):
                    found[concept.path] = facts
        return found

    @cached_property
    def before(self) -> tuple[Fact, ...]:
        """What was charted before the wound opened again, to questions that no note has answered since."""
        earlier = self.view.earlier
        facts = [fact for group in ENTRY_GROUPS for fact in section_order(newest_facts(earlier, group))]
        inside = packing(earlier.notes)
        if inside.most != 0 and inside.least is not None:
            facts.append(Fact(say("answer.packing"), inside.text, inside.at, None, "care.packing"))
        return tuple(fact for fact in facts if fact.known and not self._answered(fact.path))

    def _answered(self, path: str) -> bool:
        return any(fact.known for fact in self.facts.get(path, ()))

    @cached_property
    def brief(self) -> Facts:
        """The same in short, for what a glance needs less of; and the fields that answer a question by themselves."""
        found: dict[str, tuple[Fact, ...]] = {}
        for concept in (one for group in ENTRY_GROUPS for one in catalogue().groups[group].values() if one.is_group):
            notes = self.view.series if concept.page.lasting else self.view.now
            if concept.path in self.facts and any(one.page.brief for one in concept.fields.values()):
                found[concept.path] = newest(notes, concept, brief=True)
            for one in (one for one in concept.fields.values() if one.page.front is not None and not concept.many):
                found[one.path] = tuple(fact for fact in newest(notes, one) if fact.known)
        return {path: facts for path, facts in found.items() if facts}

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

    @property
    def stage(self) -> Fact | None:
        """The newest stage, type or depth: of an assessment, else of the wound itself."""
        found = sorted(self.front("grade"), key=lambda fact: fact.path.startswith("wound."))
        return next((fact for fact in found if fact.known), None)

    # -- what is so --------------------------------------------------------------------------------

    @property
    def closed_now(self) -> bool:
        """Whether the wound is charted as closed, and not found open again since."""
        return self.view.closed

    def is_a(self, tag: str) -> bool:
        """Whether kind or site of the wound carry a tag, such as ``lower limb`` or ``pressure``."""
        return not tag or tag in self.view.tags("wound.kind") | self.view.tags("wound.site")

    @property
    def no_deep_space(self) -> bool:
        """Whether the newest notes say that there is neither undermining nor a tunnel."""
        paths = ("assessment.undermining", "assessment.tunnels")
        return all((note := self.view.now.newest_written(path)) is not None and note.none(path) for path in paths)

    # -- things ------------------------------------------------------------------------------------

    @property
    def seen(self) -> str | None:
        """The time of the newest note about it, as written."""
        return self.view.entries[-1].at if self.view.entries else None

    @property
    def supplies(self) -> tuple[Fact, ...]:
        """Every supply of each size with its newest entry."""
        return tuple(fact for fact, _ in self._supplies.values())

    @property
    def left(self) -> tuple[Fact, ...]:
        """What is left of each supply in the home."""
        return tuple(left for _, left in self._supplies.values() if left is not None)

    @cached_property
    def _supplies(self) -> dict[str, tuple[Fact, Fact | None]]:
        fields = catalogue().groups["supply"]
        rest = [c for c in catalogue().section("supplies", "supply") if c.key not in ("item", "size")]
        found: dict[str, tuple[Fact, Fact | None]] = {}
        for entry, item in [(one, item) for one in self.view.entries for item in one.data.get("supplies", ())]:
            name = words(fields["item"], item["item"]) if known(item.get("item")) else say("fact.item_missing")
            title = f"{name}, {words(fields['size'], item['size'])}" if "size" in item else name
            text = ", ".join(field_words(c, item[c.key]) for c in rest if c.key in item)
            fact = Fact(title, text or say("fact.not_written"), entry.at, None, "supply.item", bool(text))
            left = found.get(title, (None, None))[1]
            if isinstance(item.get("left"), str):
                left = Fact(title, item["left"], entry.at, None, "supply.left")
            found[title] = (fact, left)
        return found

    @property
    def photos(self) -> tuple[Fact, ...]:
        """The photos of the newest note that has some, in words."""
        entry = next((one for one in reversed(self.view.entries) if one.wrote("photos")), None)
        if entry is None:
            return ()
        fields = catalogue().section("photos", "photo")
        shown = [
            ", ".join(field_words(c, photo[c.key]) for c in fields if c.key in photo) for photo in entry.data["photos"]
        ]
        return tuple(Fact(say("fact.photo"), text, entry.at) for text in shown if text)


def _lasting(group: str) -> list[Concept]:
    return [concept for concept in catalogue().groups[group].values() if concept.page.lasting]


def section_order(facts: Facts) -> list[Fact]:
    """Return facts in the order of the printed page."""
    return [fact for key in catalogue().sections for fact in section(facts, key)]
