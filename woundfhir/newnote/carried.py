"""What of the last note still holds: the client, the wound, how it is measured. What must be seen anew is never taken.

Signs of infection, counts, pain, size, tissue, exudate and the skin are not among the stable facts, whatever the last
note says. How much packing went in is shown as a comment, and never as an answer.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from woundfhir.chart.notes import EntryView
from woundfhir.chart.views import RecordView, open_record
from woundfhir.errors import InputError
from woundfhir.newnote.asked import data
from woundfhir.record import History

Json = Any


@dataclass
class Carried:
    """What a new note begins with.

    Attributes
    ----------
    patient, wound
        As the record has them.
    answers
        Path -> (answer, which note it is from).
    visit
        The id of the new note.
    packing
        What went in last time and in which note; empty where nothing did.
    """

    patient: dict[str, Json] = field(default_factory=dict)
    wound: dict[str, Json] = field(default_factory=dict)
    answers: dict[str, tuple[Json, str]] = field(default_factory=dict)
    visit: str = "V1"
    packing: list[dict[str, str]] = field(default_factory=list)
    packed_in: str = ""


def carry(history: History, wound_id: str | None) -> Carried:
    """Return what the newest notes of a record say that still holds.

    Raises
    ------
    InputError
        When the record has no such wound, or several open ones and none is named.
    """
    record = open_record(history)
    wound = _wound(record, wound_id)
    out = Carried(dict(history.patient), dict(wound.data), visit=note_id(history))
    for entry in wound.entries:  # oldest first: the newest answer stays
        note = _note(entry)
        for group, keys in data()["carried"].items():
            holder = entry.visit.data if group == "visit" else entry.data.get(group, {})
            for key in keys:
                if key in holder:
                    out.answers[f"{group}.{key}"] = (holder[key], note)
        packing = entry.answer("care.packing")
        if isinstance(packing, list):
            out.packing, out.packed_in = packing, note
        elif packing == "none":  # a change that says nothing of packing leaves what went in before it in question
            out.packing = []
    return out


def _wound(record: RecordView, wound_id: str | None) -> Any:
    if wound_id is not None:
        found = record.find_wound(wound_id)
        if found is None:
            raise InputError("--wound", "the id of a wound of the record", "Take it from the list 'wounds'")
        return found
    open_ones = [one for one in record.wounds if not one.in_error and one.status != "closed"]
    if len(open_ones) != 1:
        wrong = "the record has no open wound" if not open_ones else "the record has several open wounds"
        raise InputError("--wound", "the id of one wound", "Name the wound that the note is about", found=wrong)
    return open_ones[0]


def _note(entry: EntryView) -> str:
    texts = data()["texts"]
    day = (entry.visit.at or texts["no_day"]).partition("T")[0]
    return str(texts["carried_from"].format(label=entry.visit.id, day=day))


def note_id(history: History) -> str:
    """Return an id that no note of the record has.

    Examples
    --------
    >>> note_id(History.of({"woundfhir": 1, "patient": {}, "visits": [{"id": "V2", "at": "2026-03-02"}]}))
    'V3'
    """
    taken = {visit["id"] for visit in history.visits}
    number = len(taken) + 1
    while f"V{number}" in taken:
        number += 1
    return f"V{number}"
