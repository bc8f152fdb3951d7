"""Cautions of the checklist that concern a wound now: questions with their source, never orders."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from woundfhir.chart import open_record
from woundfhir.checklist import Finding, judge
from woundfhir.handover.summary.attention import Alert
from woundfhir.handover.summary.words import short
from woundfhir.handover.texts import say
from woundfhir.record import History
from woundfhir.record.positions import positions

#: Notes that are judged for the sheet: what was open longer ago has been looked at, or stands in the newest note.
RECENT = 60


@dataclass(frozen=True, slots=True)
class Caution:
    """One question of caution: the rule's code, the question, the source, the day of the note it is about."""

    rule: str
    text: str
    source: str
    at: str | None


def cautions(history: History, policy: str | None, alerts: Iterable[Alert] = ()) -> dict[str, tuple[Caution, ...]]:
    """Return the cautions by wound, most important first, each rule once.

    Parameters
    ----------
    history
        The notes that count, oldest first.
    policy
        Policy to judge by.
    alerts
        What calls for attention already: a caution that asks the same of the same note is left out.

    Returns
    -------
    dict
        Wound id -> cautions about the wound, its newest note, its packing at any recent note since it (last) opened (a
        count that does not add up stays open until somebody looks), and the client's newest note.
    """
    recent = History({**history.data, "visits": history.visits[-RECENT:]}, history.source)
    known = list(alerts)
    return {
        wound: tuple(one for one in found.values() if not any(_repeats(one, wound, alert) for alert in known))
        for wound, found in _sorted(recent, policy).items()
    }


def _repeats(caution: Caution, wound: str, alert: Alert) -> bool:
    """Whether an alert about the same wound asks the same, and names the day of the same note."""
    words = " ".join(fact.dated for fact in alert.facts)
    return alert.wound == wound and caution.rule in alert.hazard.rules and (caution.at or "") in words


def _sorted(history: History, policy: str | None) -> dict[str, dict[str, Caution]]:
    """The cautions of the recent notes by wound and rule."""
    newest = {entry["wound"]: at for at, visit in enumerate(history.visits) for entry in visit.get("wounds", ())}
    now = {wound.id: {entry.visit.id for entry in wound.episode} for wound in open_record(history).wounds}
    out: dict[str, dict[str, Caution]] = {wound["id"]: {} for wound in history.wounds}
    verdict = judge(history, policy=policy)
    # What an action answers stands after what is open, with who was told and when.
    for finding in (*verdict.findings, *verdict.answered):
        if finding.severity != "caution":
            continue
        note, about = _place(history, finding)
        for wound in [about] if about else list(out):
            packing = about is not None and ".packing" in finding.path and history.visits[note or 0]["id"] in now[wound]
            if note is None or note == newest.get(wound, -1) or packing:
                at = None if note is None else short(history.visits[note].get("at"))
                out[wound].setdefault(finding.rule, Caution(finding.rule, _text(finding), finding.source, at))
    return out


def _text(finding: Finding) -> str:
    """The question, and what answers it."""
    answers = [say("sheet.answered", who=", ".join(one.who), when=one.when) for one in finding.answers]
    return " ".join([finding.message, *answers])


def _place(history: History, finding: Finding) -> tuple[int | None, str | None]:
    """Return the number of the note and the id of the wound that a finding is about."""
    found = positions(finding.path)
    if found.visit is None:
        return None, None if found.wound is None else history.wounds[found.wound]["id"]
    wounds = history.visits[found.visit].get("wounds", ())
    return found.visit, None if found.entry is None else wounds[found.entry]["wound"]
