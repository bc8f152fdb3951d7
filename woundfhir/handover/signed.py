"""Which notes and wounds of a record came under a signature that was checked, and what may change them.

A mark stands under ``extra`` for each: its place, and a digest of it as it was signed. A note that is changed no longer
fits its mark, and so counts as unsigned from then on.
"""

from __future__ import annotations

from collections.abc import Iterator
from hashlib import sha256
from typing import Any

from woundfhir.chart.header import finished
from woundfhir.record import History
from woundfhir.record.canonical import as_json

Json = Any

SIGNED = "came under a signature that was checked and holds; digest of what was signed"
CLAIMED = "the sender's record calls it signed; not checked here"


def without_claims(came: History) -> History:
    """Return what came with its marks turned into claims: only a check made here counts."""
    if not any(item.get("why") == SIGNED for item in came.extra):
        return came
    items = [{**item, "why": CLAIMED} if item.get("why") == SIGNED else item for item in came.extra]
    return History.of({**came.data, "extra": items}, came.source)


def mark(history: History, came: History, holds: bool) -> None:
    """Bring the marks of a joined record up to date.

    Parameters
    ----------
    history
        The joined record; its ``extra`` is changed.
    came
        What was joined to it.
    holds
        Whether a signature over ``came`` was checked and holds.
    """
    stands = {place: item for _, place, item in _items(history)}
    marks = [item for item in history.extra if item.get("why") == SIGNED]
    valid = [item for item in marks if _fits(item, stands)]
    if holds:
        here = ((place, item) for _, place, item in _items(came) if stands.get(place) == item)
        valid += [{"from": "record", "place": place, "why": SIGNED, "value": _digest(item)} for place, item in here]
    if valid == marks:
        return
    rest = [item for item in history.extra if item.get("why") != SIGNED]
    history.data.pop("extra", None)
    if rest or valid:
        history.keep([*rest, *valid])


def changed(known: History, merged: History) -> list[str]:
    """Return the places of signed notes and wounds that a joining would change or retract, by position."""
    marks = {item.get("place", ""): item for item in known.extra if item.get("why") == SIGNED}
    after = {place: item for _, place, item in _items(merged)}
    before = {visit["id"] for visit in known.visits}
    retracted = {
        visit["replaces"]
        for visit in merged.visits
        if "replaces" in visit and finished(visit.get("status")) and visit["id"] not in before
    }
    out = []
    for where, place, item in _items(known):
        if place in marks and _fits(marks[place], {place: item}):
            is_retracted = place.startswith("visits") and item["id"] in retracted
            if is_retracted or after.get(place) != item:
                out.append(where)
    return out


def _items(history: History) -> Iterator[tuple[str, str, dict[str, Json]]]:
    """Yield position, place (by id) and content of each wound and each note."""
    for kind, items in (("wounds", history.wounds), ("visits", history.visits)):
        for number, item in enumerate(items):
            yield f"{kind}[{number}]", f"{kind}[{item['id']}]", item


def _fits(item: dict[str, str], stands: dict[str, dict[str, Json]]) -> bool:
    there = stands.get(item.get("place", ""))
    return there is not None and item.get("value") == _digest(there)


def _digest(item: dict[str, Json]) -> str:
    return sha256(as_json(item).encode()).hexdigest()
