"""The facts that the next nurse needs, told once: the sheet and the document both say these.

Pure functions from a ``History`` to frozen dataclasses. Notes that are draft, replaced or entered in error
never count; "not written" stays apart from "none".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from woundfhir.catalogue import catalogue
from woundfhir.handover.summary.words import Fact, counting, facts, people
from woundfhir.handover.summary.wound import WoundSummary, wound_summary
from woundfhir.record import History
from woundfhir.record.answers import absent

if TYPE_CHECKING:
    from woundfhir.handover.summary.questions import Question

Json = Any

#: Words in an allergy that matter for what touches skin and wound (common practice, no source).
_MATTERS = (
    "adhesive",
    "tape",
    "plaster",
    "acrylate",
    "colophony",
    "honey",
    "bee",
    "iodine",
    "silver",
    "latex",
    "rubber",
    "sulfa",
    "sulpha",
    "chlorhexidine",
    "alginate",
    "lanolin",
    "dressing",
    "bandage",
)


@dataclass(frozen=True, slots=True)
class Allergy:
    """One allergy or reaction in words; ``matters`` where it names something used on skin and wounds."""

    text: str
    matters: bool


@dataclass(frozen=True, slots=True)
class Summary:
    """One client's history in facts.

    Attributes
    ----------
    wounds
        Every wound that is not entered in error, in the order written.
    allergies, allergies_known
        What is written; ``allergies_known`` says "none known", "not written" or why not given where the list is empty.
    client
        Newest facts about the whole person, by key of the catalogue.
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
    client: Mapping[str, Fact]
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
    >>> told = summary(parse(story(), "story").history)
    >>> [(wound.id, wound.size.text, wound.since_first.text) for wound in told.wounds][0]
    ('W1', '3.0 cm x 2.2 cm, depth 0.1 cm', '68 % smaller')
    """
    notes = counting(history)
    visits = notes.visits
    wounds = tuple(wound_summary(notes, raw) for raw in history.wounds if raw.get("status") != "entered in error")
    allergies, allergies_known = _allergies(history.patient.get("allergies"))
    conditions, conditions_known = _listed(history.patient.get("conditions"))
    seen = [(visit, visit["client"]) for visit in visits if "client" in visit]
    client = {key: found[0] for key in catalogue().groups["client"] if (found := facts(seen, "client", key))}
    last = visits[-1] if visits else {}
    noted = next((Fact("Note", visit["note"], visit.get("at")) for visit in reversed(visits) if "note" in visit), None)
    return Summary(
        wounds=wounds,
        allergies=allergies,
        allergies_known=allergies_known,
        conditions=tuple(map(str, conditions)),
        conditions_known=conditions_known,
        client=client,
        contacts=_contacts(history, client),
        author=people(last.get("by")),
        at=last.get("at"),
        written=last.get("written"),
        note=noted,
        left_out=len(history.visits) - len(visits),
    )


def _listed(value: Json) -> tuple[list[Json], str]:
    if value is None:
        return [], "not written"
    if isinstance(value, dict):
        missing = absent(value)
        return [], "none known" if missing is None else f"not given: {missing.get('absent', '')}"
    return list(value), "listed"


def _allergies(value: Json) -> tuple[tuple[Allergy, ...], str]:
    items, known_ = _listed(value)
    out = []
    for item in items:
        if item.get("status", "").casefold() in ("entered in error", "entered-in-error"):
            continue
        text = item.get("to", "substance not written")
        text += f": {item['reaction']}" if "reaction" in item else ""
        extra = [item[key] for key in ("status", "note") if key in item and item[key].casefold() != "active"]
        text += f" ({'; '.join(extra)})" if extra else ""
        out.append(Allergy(text, any(word in text.casefold() for word in _MATTERS)))
    return tuple(
        sorted(out, key=lambda allergy: not allergy.matters)
    ), known_ if out or not items else "none that counts"


def _contacts(history: History, client: Mapping[str, Fact]) -> tuple[Fact, ...]:
    out = []
    contact = history.patient.get("contact")
    if contact:
        out.append(Fact("Contact", ", ".join(contact[key] for key in ("name", "role", "phone") if key in contact)))
    return (*out, *([client["next_contact"]] if "next_contact" in client else []))
