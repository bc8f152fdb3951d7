"""What is known of the blood flow in a limb: the limb pressures of a visit and of all before it. No rule is here."""

from __future__ import annotations

from bisect import bisect_right, insort
from collections.abc import Callable
from datetime import date
from typing import NamedTuple

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView, VisitView
from woundfhir.checklist.rules.helpers import index_of, toe_index_of
from woundfhir.measures.timing import bounds
from woundfhir.record import dates
from woundfhir.record.bounds import Amount

#: Where a pressure at the ankle stands; the higher of the two counts.
ANKLE = ("dorsalis_pedis", "posterior_tibial")
_OTHERS = ("toe_pressure", "toe_index", "waveform")
#: What a measurement leaves in the record; a side, a day and "pulses felt" under who measured are none.
MEASURED = ("index", "dorsalis_pedis", "posterior_tibial", "oxygen_pressure", *_OTHERS)


class BloodFlow(NamedTuple):
    """What the limb pressures of one limb say, those of a visit and of every earlier one together.

    Attributes
    ----------
    known, dated
        Whether anything was measured, and anything with something written for its date. Felt pulses measure nothing.
    others
        Whether a toe pressure, a toe index or a waveform is written.
    ankle
        The newest that gives an ankle index, with the index.
    toe, toe_index, oxygen
        The newest toe pressure, toe index and transcutaneous oxygen pressure, each with the measurement that holds it.
    taken
        The newest of their dates at or before the day of the visit, as written.
    ankle_pressure, toe_pressure
        The newest that holds a pressure at the ankle, and at the toe.
    """

    known: bool = False
    dated: bool = False
    others: bool = False
    ankle: tuple[Item, Amount] | None = None
    toe: tuple[Item, Amount] | None = None
    toe_index: tuple[Item, Amount] | None = None
    oxygen: tuple[Item, Amount] | None = None
    taken: str | None = None
    ankle_pressure: Item | None = None
    toe_pressure: Item | None = None


def blood_flow(entry: EntryView) -> BloodFlow:
    """Return what is known at a visit of the blood flow in the wound's limb; worked out once for the whole record."""
    return entry.record.once(_by_visit, entry.wound.word("wound.side")).found[entry.visit.rank]


#: The first and the last day that a date can mean, and the date as written.
_Dated = tuple[tuple[date, date], str]


class _Known(NamedTuple):
    """What is known at each of some visits, and after the last of them that counts."""

    found: list[BloodFlow]
    after: BloodFlow
    taken: list[_Dated]


def _by_visit(visits: list[VisitView], side: str | None, known: _Known | None) -> _Known:
    """Return it for each judged visit; a draft adds nothing to those after it."""
    out = [] if known is None else list(known.found)
    before, taken = (BloodFlow(), []) if known is None else (known.after, list(known.taken))
    for visit in visits:
        items = _items(visit, side)
        here = _taken(items)
        now = _with(before, items)
        if visit.day is not None:
            newest = [found for found in (_newest(here, visit.day), _newest(taken, visit.day)) if found is not None]
            now = now._replace(taken=max(newest)[1] if newest else None)
        out.append(now)
        if visit.counts:
            before = now
            for found in here:
                insort(taken, found)
    return _Known(out, before, taken)


def _items(visit: VisitView, side: str | None) -> list[Item]:
    """Return what was measured at a visit on one limb, newest first; one without a side counts for both."""
    items = (item for entry in visit.entries for item in reversed(entry.items("assessment.limb_pressure")))
    found = (item for item in items if any(item.written(name) for name in MEASURED))
    return [item for item in found if side is None or item.word("side") in (None, side, "both") or side == "both"]


def _with(before: BloodFlow, items: list[Item]) -> BloodFlow:
    return BloodFlow(
        known=before.known or bool(items),
        dated=before.dated or any(item.written("date") for item in items),
        others=before.others or any(item.written(name) for item in items for name in _OTHERS),
        ankle=_newest_with(items, index_of) or before.ankle,
        toe=_newest_with(items, lambda item: item.amount("toe_pressure", "mm[Hg]")) or before.toe,
        toe_index=_newest_with(items, toe_index_of) or before.toe_index,
        oxygen=_newest_with(items, lambda item: item.amount("oxygen_pressure", "mm[Hg]")) or before.oxygen,
        ankle_pressure=next((one for one in items if any(one.has(key) for key in ANKLE)), before.ankle_pressure),
        toe_pressure=next((one for one in items if one.has("toe_pressure")), before.toe_pressure),
    )


def _newest_with(items: list[Item], value: Callable[[Item], Amount | None]) -> tuple[Item, Amount] | None:
    return next(((item, found) for item in items if (found := value(item)) is not None), None)


def _taken(items: list[Item]) -> list[_Dated]:
    texts = (item.answer("date") for item in items)
    return sorted((bounds(text), text) for text in texts if isinstance(text, str) and dates.moment(text) is not None)


def _newest(found: list[_Dated], day: date) -> _Dated | None:
    place = bisect_right(found, day, key=lambda one: one[0][0])
    return found[place - 1] if place else None
