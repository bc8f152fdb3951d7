"""Which part of a history goes along: by wound, by date, the newest visits; nothing that was not asked for."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

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
        Ids of the wounds asked for; none means all. Notes of other wounds do not come along.
    since
        A date: visits before it stay behind. A visit whose time cannot be placed comes along.
    newest
        The newest N visits of what is left.

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
    visits = [found for visit in history.visits if (found := _part(visit, wounds)) is not None]
    if since is not None:
        visits = [visit for visit in visits if dates.earlier(visit.get("at"), since) is not True]
    if newest is not None:
        order = sorted(range(len(visits)), key=lambda i: (_when(visits[i]), i))
        kept = set(order[max(0, len(order) - newest) :])
        visits = [visit for index, visit in enumerate(visits) if index in kept]
    data = dict(history.data, visits=_closed(visits, history.visits))
    if wounds:
        data["wounds"] = [wound for wound in history.wounds if wound["id"] in wounds]
        data.pop("extra", None)
    return History(data, history.source)


def _when(visit: dict[str, Json]) -> str:
    found = dates.moment(visit.get("at"))
    return found.replace(tzinfo=None).isoformat() if found else ""


def _part(visit: dict[str, Json], wounds: Collection[str]) -> dict[str, Json] | None:
    if not wounds:
        return visit
    entries = [entry for entry in visit.get("wounds", ()) if entry["wound"] in wounds]
    return {**visit, "wounds": entries} if entries else None


def _closed(visits: list[dict[str, Json]], every: list[dict[str, Json]]) -> list[dict[str, Json]]:
    """A note that is replaced by one that travels loses the link when it stays behind."""
    here = {visit["id"] for visit in visits}
    return [
        visit if visit.get("replaces", visit["id"]) in here else {k: v for k, v in visit.items() if k != "replaces"}
        for visit in visits
    ]
