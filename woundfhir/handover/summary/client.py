"""The facts that the next nurse needs, in one place: the sheet and the document both print these.

Pure functions from a ``History`` to frozen dataclasses. Notes that are draft, replaced or entered in error
never count; "not written" stays apart from "none".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from woundfhir.catalogue import catalogue
from woundfhir.chart import counting
from woundfhir.handover.summary.attention import Alert, of_client, of_wound
from woundfhir.handover.summary.facts import Facts, newest_facts, section
from woundfhir.handover.summary.words import Fact, people
from woundfhir.handover.summary.wound import WoundSummary, wound_summary
from woundfhir.handover.texts import say
from woundfhir.record import History
from woundfhir.record.answers import absent

if TYPE_CHECKING:
    from woundfhir.handover.summary.questions import Question

Json = Any

_INACTIVE = frozenset(("inactive", "resolved", "refuted", "entered in error", "entered-in-error"))


@dataclass(frozen=True, slots=True)
class Allergy:
    """One allergy or reaction: what to, in words; ``matters`` where it names something used on skin and wounds."""

    to: str
    text: str
    matters: bool
    active: bool


@dataclass(frozen=True, slots=True)
class Summary:
    """One client's history in facts.

    Attributes
    ----------
    wounds
        Every wound that is not entered in error, in the order written.
    allergies, allergies_known
        What is written; ``allergies_known`` says "none known", "not written" or why not given where the list is empty.
    facts
        Newest facts about the whole person and about the visit, by the path of their concept.
    attention
        What calls for attention, most urgent first.
    contacts
        Who to call.
    author, at
        Who wrote the newest note, and when the visit was.
    left_out
        How many notes do not count: draft, replaced, entered in error.
    """

    wounds: tuple[WoundSummary, ...]
    allergies: tuple[Allergy, ...]
    allergies_known: str
    conditions: tuple[str, ...]
    conditions_known: str
    facts: Facts
    attention: tuple[Alert, ...]
    contacts: tuple[Fact, ...]
    author: str | None
    at: str | None
    written: str | None
    note: Fact | None
    left_out: int

    @property
    def open_wounds(self) -> tuple[WoundSummary, ...]:
        """The wounds that still need care, the one whose next change is due first on top; those without a day last."""
        still = [wound for wound in self.wounds if not wound.closed_now]
        return tuple(sorted(still, key=lambda wound: wound.next_change.text if wound.next_change else "~"))

    def fact(self, path: str) -> Fact | None:
        """Return the newest answer of one concept about the client, the reason for no answer, or None."""
        return next(iter(self.facts.get(path, ())), None)

    def section(self, key: str) -> tuple[Fact, ...]:
        """Return the facts about the client in a section of the page, by rank."""
        return section(self.facts, key)

    @property
    def questions(self) -> tuple[Question, ...]:
        """The ten questions of a transfer, with their answers and what is missing."""
        from woundfhir.handover.summary.questions import questions

        return questions(self)

    @property
    def missing(self) -> tuple[str, ...]:
        """What the ten questions ask and the record does not answer."""
        return tuple(f"{question.title}: {gap}" for question in self.questions for gap in question.missing)


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
    notes = counting(history)
    visits = notes.visits
    wounds = tuple(wound_summary(notes, raw) for raw in history.wounds if raw.get("status") != "entered in error")
    allergies, allergies_known = _allergies(history.patient.get("allergies"))
    conditions, conditions_known = _listed(history.patient.get("conditions"))
    answers = [(visit, visit["client"]) for visit in visits if "client" in visit]
    facts = {**newest_facts(answers, "client"), **newest_facts([(visit, visit) for visit in visits], "visit")}
    last = visits[-1] if visits else {}
    noted = next((_note(visit["note"], visit.get("at")) for visit in reversed(visits) if "note" in visit), None)
    names = [allergy.to for allergy in allergies if allergy.active]
    alerts = [alert for wound in wounds if not wound.closed_now for alert in of_wound(wound, names)]
    return Summary(
        wounds=wounds,
        allergies=allergies,
        allergies_known=allergies_known,
        conditions=tuple(map(str, conditions)),
        conditions_known=conditions_known,
        facts=facts,
        attention=tuple(sorted([*of_client(answers), *alerts], key=lambda alert: alert.hazard.rank)),
        contacts=_contacts(history, facts),
        author=people(last.get("by")),
        at=last.get("at"),
        written=last.get("written"),
        note=noted,
        left_out=len(history.visits) - len(visits),
    )


def _note(words: str, at: str | None = None) -> Fact:
    return Fact(say("fact.note"), words, at)


def _listed(value: Json) -> tuple[list[Json], str]:
    if value is None:
        return [], say("fact.not_written")
    if isinstance(value, dict):
        missing = absent(value)
        return [], say("fact.none_known") if missing is None else say("fact.absent", reason=missing.get("absent", ""))
    return list(value), "listed"


def _allergies(value: Json) -> tuple[tuple[Allergy, ...], str]:
    items, known_ = _listed(value)
    out = []
    for item in items:
        status = item.get("status", "").casefold()
        if status in ("entered in error", "entered-in-error"):
            continue
        name = item.get("to", say("fact.substance_missing"))
        text = name
        text += f": {item['reaction']}" if "reaction" in item else ""
        extra = [item[key] for key in ("status", "note") if key in item and item[key].casefold() != "active"]
        text += f" ({'; '.join(extra)})" if extra else ""
        named = [word for words in catalogue().pages.substances.values() for word in words]
        matters = any(word in text.casefold() for word in named)
        out.append(Allergy(name, text, matters, "to" in item and status not in _INACTIVE))
    first = tuple(sorted(out, key=lambda allergy: not allergy.matters))
    return first, known_ if out or not items else say("fact.none_counts")


def _contacts(history: History, facts: Facts) -> tuple[Fact, ...]:
    out = []
    contact = history.patient.get("contact")
    if contact:
        out.append(
            Fact(say("fact.contact"), ", ".join(contact[key] for key in ("name", "role", "phone") if key in contact))
        )
    return (*out, *facts.get("client.next_contact", ()))
