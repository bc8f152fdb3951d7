"""What came and what is known say different things: both sides, who wrote them and when, and what a person decides.

Joining decides nothing: what is known stays current, what came is kept word for word. Where the two sides differ about
a note, a person may also let what came stand: that is an amendment of the note, filled with it, which she signs with
her name, the time and her reason, so that nothing is written over. What is said of the client or of a wound itself has
no such versions: there both sides stand, the one that is known first.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from woundfhir.chart.header import finished
from woundfhir.handover.difference import Difference
from woundfhir.handover.merged import Conflict
from woundfhir.handover.received import Received
from woundfhir.page.answers import flat_entry
from woundfhir.page.draft import REASON, VISIT, begin, changing
from woundfhir.page.folder import Client
from woundfhir.page.noted import as_draft
from woundfhir.page.texts import say
from woundfhir.record import History

Json = Any
_PLACE = re.compile(r"visits\[(.*?)\](?:\.wounds\[(.*?)\])?(?:\.|$)")


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a conflict: the author of the note and its time, as written; empty where it is about no note."""

    by: str = ""
    at: str | None = None


@dataclass(frozen=True, slots=True)
class Both:
    """One conflict.

    Attributes
    ----------
    place, why, differences
        As the joining says.
    known, came
        Who wrote the two sides, and when.
    visit, wound
        Ids of the note and the wound that what came may be taken for; no note: both sides stand.
    """

    place: str
    why: str
    differences: tuple[Difference, ...]
    known: Side | None = None
    came: Side | None = None
    visit: str = ""
    wound: str = ""

    @property
    def key(self) -> str:
        """Its name in a form; empty where nothing is to be decided."""
        return f"{self.visit}\n{self.wound}" if self.visit else ""


def conflicts(done: Received, known: History | None) -> list[Both]:
    """Return what conflicts, with both sides."""
    return [_both(one, done.came, known) for one in done.merged.conflicts]


def _both(one: Conflict, came: History, known: History | None) -> Both:
    found = next((place for diff in one.differences if (place := _PLACE.match(diff.path))), None)
    if found is None or known is None:
        return Both(one.place, one.why, one.differences)
    mine, theirs = (_visit(side, found[1]) for side in (known, came))
    wound = found[2] or ""
    if mine is None or theirs is None or (wound and _entry(theirs, wound) is None):
        return Both(one.place, one.why, one.differences)
    open_to_amend = finished(mine.get("status"))
    return Both(
        one.place, one.why, one.differences, _side(mine), _side(theirs), found[1] if open_to_amend else "", wound
    )


def _side(visit: Mapping[str, Json]) -> Side:
    return Side(str(visit.get("by", {}).get("name", "")), visit.get("written") or visit.get("at"))


def _visit(history: History, name: str) -> dict[str, Json] | None:
    return next((visit for visit in history.visits if visit["id"] == name), None)


def _entry(visit: Mapping[str, Json], wound: str) -> dict[str, Json] | None:
    return next((entry for entry in visit.get("wounds", ()) if entry["wound"] == wound), None)


def amend_with(client: Client, chosen: Iterable[Both], came: History, by: str, at: str) -> list[str]:
    """Begin an amendment for each note of which a person takes what came; return the names of the drafts."""
    by_note: dict[str, set[str]] = {}
    for one in chosen:
        by_note.setdefault(one.visit, set()).add(one.wound)
    return [_amendment(client, visit, wounds, came, by, at) for visit, wounds in by_note.items()]


def _amendment(client: Client, name: str, wounds: Collection[str], came: History, by: str, at: str) -> str:
    mine, theirs = _visit(client.history(), name), _visit(came, name)
    assert mine is not None and theirs is not None
    values, new = as_draft(mine), as_draft({**theirs, "wounds": []})
    if "" in wounds:
        values[VISIT] = new[VISIT]
    for wound in wounds:
        if wound and (entry := _entry(theirs, wound)) is not None:
            values[wound] = flat_entry(entry)
    values[VISIT] = {**values[VISIT], REASON: [say("take.reason")]}
    draft = begin(client.drafts, {"at": str(mine.get("at", "")), "by": by, "replaces": name})
    with changing(client.drafts, draft.id) as held:
        for scope, flat in values.items():
            held.put(scope, flat, by, at)
            held.of(scope)
    return draft.id
