"""The facts that the next nurse needs, in one place: the sheet and the document both print these.

Notes that are draft, replaced or entered in error never count; "not written" stays apart from "none".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from woundfhir.catalogue.frame import frame_word
from woundfhir.chart import RecordView, VisitView, open_record
from woundfhir.chart.allergies import substances_named
from woundfhir.chart.client import IN_ERROR, INACTIVE
from woundfhir.chart.time import NO_TIME
from woundfhir.fhir.unread import Unread, unread
from woundfhir.handover.summary.attention import Alert, of_client, of_wound
from woundfhir.handover.summary.facts import Facts, newest_facts, section
from woundfhir.handover.summary.words import Fact, people
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.handover.texts import say
from woundfhir.record import History
from woundfhir.record.answers import absent
from woundfhir.record.spoken import absent_words

Json = Any


@dataclass(frozen=True, slots=True)
class Allergy:
    """One allergy or reaction: what to, in words; ``matters`` where it names something used on skin and wounds."""

    to: str
    text: str
    matters: bool
    active: bool


class Summary:
    """One client's history in facts; worked out as far as somebody asks.

    Parameters
    ----------
    view
        The record, opened.
    came
        What came with the history and is not understood.

    Attributes
    ----------
    came
        The same in its sender's words, each with its day and the wound that it names.
    wounds
        Every wound that is not entered in error, in the order written.
    allergies, allergies_known
        What is written; ``allergies_known`` says "none known", "not written" or why not given where the list is empty.
    conditions, conditions_known
        The same of health conditions.
    """

    def __init__(self, view: RecordView, came: Iterable[Unread] = ()) -> None:
        self.view = view
        self.came = tuple(Fact(one.words, one.value or say("fact.no_words"), one.at, one.wound) for one in came)
        self.wounds = tuple(WoundSummary(wound) for wound in view.wounds if not wound.in_error)
        self.allergies, self.allergies_known = _allergies(view.patient.given("allergies"))
        found, self.conditions_known = _listed(view.patient.given("conditions"))
        self.conditions = tuple(map(str, found))

    @property
    def open_wounds(self) -> tuple[WoundSummary, ...]:
        """The wounds that still need care, the one whose next change is due first on top; those without a day last."""

        def due(wound: WoundSummary) -> tuple[bool, int]:
            when = NO_TIME if wound.next_change is None else self.view.clock.when(wound.next_change.text)
            return when == NO_TIME, when.order

        return tuple(sorted((wound for wound in self.wounds if not wound.closed_now), key=due))

    @cached_property
    def facts(self) -> Facts:
        """Newest facts about the whole person and about the visit, by the path of their concept."""
        return {**newest_facts(self.view.series, "client"), **newest_facts(self.view.series, "visit")}

    @cached_property
    def attention(self) -> tuple[Alert, ...]:
        """What calls for attention, most urgent first."""
        names = [allergy.to for allergy in self.allergies if allergy.active]
        found = [alert for wound in self.wounds if not wound.closed_now for alert in of_wound(wound, names)]
        return tuple(sorted([*of_client(self.view), *found], key=lambda alert: alert.hazard.rank))

    @property
    def contacts(self) -> tuple[Fact, ...]:
        """Who to call."""
        given: Mapping[str, str] = self.view.patient.given("contact") or {}
        words = ", ".join(given[key] for key in ("name", "role", "phone") if key in given)
        return (*([Fact(say("fact.contact"), words)] if given else []), *self.facts.get("client.next_contact", ()))

    @property
    def _last(self) -> VisitView | None:
        return self.view.counted[-1] if self.view.counted else None

    @property
    def author(self) -> str | None:
        """Who wrote the newest note."""
        return None if self._last is None else people(self._last.by)

    @property
    def at(self) -> str | None:
        """When the newest visit was, as written."""
        return None if self._last is None else self._last.at

    @property
    def note(self) -> Fact | None:
        """The newest free words about a visit."""
        found = next((visit for visit in reversed(self.view.counted) if "note" in visit.data), None)
        return None if found is None else Fact(say("fact.note"), found.data["note"], found.at)

    @property
    def left_out(self) -> int:
        """How many notes do not count: draft, replaced, entered in error."""
        return len(self.view.visits) - len(self.view.counted)

    def section(self, key: str) -> tuple[Fact, ...]:
        """Return the facts about the client in a section of the page, by rank."""
        return section(self.facts, key)


def summary(history: History) -> Summary:
    """Return the facts of a history.

    Parameters
    ----------
    history
        One client's record; see ``gather`` for a part of it.

    Examples
    --------
    >>> from woundfhir.demo import story
    >>> from woundfhir.intake.source import parse
    >>> found = summary(parse(story(), "story").history)
    >>> [(wound.id, wound.size.text, wound.since_first.text) for wound in found.wounds][0]
    ('W1', '3.0 cm x 2.2 cm, depth 0.1 cm', '68 % smaller')
    """
    return Summary(open_record(history), unread(history))


def _listed(value: Json) -> tuple[list[Json], str]:
    if value is None:
        return [], say("fact.not_written")
    if isinstance(value, dict):
        missing = absent(value)
        return [], say("fact.none_known") if missing is None else absent_words(str(missing.get("absent", "")))
    return list(value), "listed"


def _allergies(value: Json) -> tuple[tuple[Allergy, ...], str]:
    items, known_ = _listed(value)
    out = []
    for item in items:
        status = item.get("status", "").casefold()
        if status in IN_ERROR:
            continue
        name = item.get("to", say("fact.substance_missing"))
        text = name
        text += f": {item['reaction']}" if "reaction" in item else ""
        extra = [
            frame_word(item[key]) for key in ("status", "note") if key in item and item[key].casefold() != "active"
        ]
        text += f" ({'; '.join(extra)})" if extra else ""
        matters = bool(substances_named(text))
        out.append(Allergy(name, text, matters, "to" in item and status not in INACTIVE))
    first = tuple(sorted(out, key=lambda allergy: not allergy.matters))
    return first, known_ if out or not items else say("fact.none_counts")
