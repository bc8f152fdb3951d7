"""Which part of a history is handed over: by wound, by date, the newest visits; nothing that was not asked for."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from woundfhir.chart import VisitView, open_record
from woundfhir.chart.time import When
from woundfhir.errors import InputError
from woundfhir.record import History, dates

Json = Any


def gather(
    history: History, *, wounds: Collection[str] = (), since: str | None = None, newest: int | None = None
) -> History:
    """Return a history with the chosen part alone.

    Parameters
    ----------
    history
        One client's record.
    wounds
        Ids of the wounds asked for; none means all. Notes of other wounds are left out.
    since
        A date: visits that were certainly before it are left out. A visit whose time cannot be placed is kept.
    newest
        The newest N notes that count, of what is left; a draft, a replaced note and one entered in error are not
        among them. Where no note counts, the newest drafts.

    Raises
    ------
    InputError
        When a wound is not in the record or the date cannot be read.
    """
    if missing := [wound for wound in wounds if history.wound(wound) is None]:
        raise InputError(
            f"--wound (number {list(wounds).index(missing[0]) + 1})",
            "the id of a wound of this record",
            "See `woundfhir trend` for the ids",
        )
    if since is not None and dates.moment(since) is None:
        raise InputError("--since", "a date such as 2026-03-01", "Write year, month and day")
    record = open_record(history)
    parts = {visit.id: part for visit in record.visits if (part := _part(visit.data, wounds)) is not None}
    if since is not None:
        start = record.clock.when(since)
        parts = {name: part for name, part in parts.items() if not _before(record.visit_by_id[name], start, since)}
    if newest is not None:
        order = [visit.id for visit in record.counted or record.judged if visit.id in parts]
        kept = set(order[max(0, len(order) - newest) :])
        parts = {name: part for name, part in parts.items() if name in kept}
    data = dict(history.data, visits=without_lost_links(parts.values()))
    if wounds:
        data["wounds"] = [wound for wound in history.wounds if wound["id"] in wounds]
        data.pop("extra", None)
    return History(data, history.source)


def _before(visit: VisitView, start: When, since: str) -> bool:
    """Whether a visit was certainly before a date, by its instant and by the day as written."""
    return visit.when.before(start) and dates.earlier(visit.at or visit.written_at, since) is True


def _part(visit: dict[str, Json], wounds: Collection[str]) -> dict[str, Json] | None:
    if not wounds:
        return visit
    entries = [entry for entry in visit.get("wounds", ()) if entry["wound"] in wounds]
    return {**visit, "wounds": entries} if entries else None


def without_lost_links(visits: Iterable[dict[str, Json]]) -> list[dict[str, Json]]:
    """Return notes, of which one whose older version is not among them no longer names it."""
    notes = list(visits)
    here = {note["id"] for note in notes}
    return [
        note if note.get("replaces", note["id"]) in here else {k: v for k, v in note.items() if k != "replaces"}
        for note in notes
    ]
