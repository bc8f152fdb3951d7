"""Cautions of the checklist that concern a wound now: questions with their source, never orders."""

from __future__ import annotations

import re
from dataclasses import dataclass

from woundfhir.checklist import Finding, check
from woundfhir.handover.summary.words import short
from woundfhir.record import History

#: Notes that are judged for the sheet: what was open longer ago has been looked at, or stands in the newest note.
RECENT = 60
_PATH = re.compile(r"(wounds|visits)\[(\d+)\](?:\.wounds\[(\d+)\])?")


@dataclass(frozen=True, slots=True)
class Caution:
    """One question of caution: the rule's code, the question, the source, the day of the note it is about."""

    rule: str
    text: str
    source: str
    at: str | None


def cautions(history: History, policy: str) -> dict[str, tuple[Caution, ...]]:
    """Return the cautions by wound, most important first, each rule once.

    Parameters
    ----------
    history
        The notes that count, oldest first.
    policy
        Policy to judge by.

    Returns
    -------
    dict
        Wound id -> cautions about the wound, its newest note, its packing at any recent note (a count that does not
        add up stays open until somebody looks), and the client's newest note.
    """
    recent = History({**history.data, "visits": history.visits[-RECENT:]}, history.source)
    return _sorted(recent, policy)


def _sorted(history: History, policy: str) -> dict[str, tuple[Caution, ...]]:
    """The cautions of the recent notes, put with their wounds."""
    newest = {entry["wound"]: at for at, visit in enumerate(history.visits) for entry in visit.get("wounds", ())}
    out: dict[str, dict[str, Caution]] = {wound["id"]: {} for wound in history.wounds}
    for finding in check(history, policy=policy):
        if finding.severity != "caution":
            continue
        note, about = _place(history, finding)
        for wound in [about] if about else list(out):
            packing = about is not None and ".packing" in finding.path
            if note is None or note == newest.get(wound, -1) or packing:
                at = None if note is None else short(history.visits[note].get("at"))
                out[wound].setdefault(finding.rule, Caution(finding.rule, finding.message, finding.source, at))
    return {wound: tuple(found.values()) for wound, found in out.items()}


def _place(history: History, finding: Finding) -> tuple[int | None, str | None]:
    """Return the number of the note and the id of the wound that a finding is about."""
    found = _PATH.match(finding.path)
    if found is None:
        return None, None
    kind, first, second = found.groups()
    if kind == "wounds":
        return None, history.wounds[int(first)]["id"]
    visit = history.visits[int(first)]
    return int(first), visit["wounds"][int(second)]["wound"] if second is not None else None
