"""One client's record, opened to be asked: the notes in the order of time, which of them count, which is the newest.

**Which notes count.** A note that was entered in error does not, and a draft does not yet. A note that a finished note
replaces does not, whether the one that replaces it does so itself or by way of others (an amendment of an amendment);
a draft, or a note in error, replaces nothing. Notes that replace each other in a circle replace nothing: nobody knows
which is right.

**Order in time** is that of ``woundfhir.chart.time``. The *newest* note is the last of those that count; where none
counts, the last draft.

Views are read-only and cheap: one sort, what is asked twice is worked out once, nothing of the record is copied
(``data`` of a view is the record's own dict; do not change it).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any, Protocol, TypeVar

from woundfhir.chart.asking import Item
from woundfhir.chart.client import PatientView
from woundfhir.chart.conditional import Conditional
from woundfhir.chart.header import finished
from woundfhir.chart.heard import Heard, again
from woundfhir.chart.leaves import Leaf
from woundfhir.chart.notes import KEPT, EntryView, VisitView, WoundView
from woundfhir.chart.series import Series
from woundfhir.chart.time import Clock
from woundfhir.record import History

Json = Any
Key = TypeVar("Key")
Made = TypeVar("Made")

__all__ = ["EntryView", "Item", "Leaf", "PatientView", "RecordView", "VisitView", "WoundView", "open_record"]


class Limits(Protocol):
    """Numbers on which guidelines differ; a policy of the checklist is one."""

    def number(self, key: str) -> Decimal:
        """Return a number by its key."""


class RecordView(Conditional):
    """One client's whole record.

    Parameters
    ----------
    history
        The record.
    policy
        Where the numbers that some conditions need are from ("deep wound"); without it those conditions raise
        LookupError.
    transfer
        Whether the newest note is judged as a transfer note, whatever its purpose is.
    today
        The day the record is judged on; that of the newest note where it is left out.
    replaced
        The id of a note that a note to come replaces.

    Examples
    --------
    >>> visits = [
    ...     {"id": "b", "at": "2026-03-02T23:30:00-05:00"},
    ...     {"id": "a", "at": "2026-03-03T00:30:00Z"},
    ...     {"id": "c", "at": "2026-03-04T10:00:00Z", "status": "draft"},
    ... ]
    >>> record = open_record(History.of({"woundfhir": 1, "patient": {}, "visits": visits}))
    >>> [visit.id for visit in record.judged], [visit.id for visit in record.counted], record.newest.id
    (['a', 'b', 'c'], ['a', 'b'], 'b')
    """

    scope = "record"
    #: The one note that is judged, where only one is; the others are what it is held against.
    alone: VisitView | None = None
    #: How many of the judged notes stay (see ``one_more.py``).
    settled: int | None = None

    def __init__(
        self,
        history: History,
        policy: Limits | None = None,
        *,
        transfer: bool = False,
        today: date | None = None,
        replaced: str | None = None,
    ) -> None:
        super().__init__()
        self.data = history.data
        self.transfer = transfer
        self.patient = PatientView(self, history.data["patient"])
        self.wounds = [WoundView(self, i, data) for i, data in enumerate(history.data["wounds"])]
        self._by_id = {wound.id: wound for wound in self.wounds}
        #: All notes in the order written; those that were replaced and those in error too.
        self.visits = [VisitView(self, i, data) for i, data in enumerate(history.data["visits"])]
        self.visit_by_id = {visit.id: visit for visit in self.visits}
        _replace(self.visits, self.visit_by_id, replaced)
        # Of the notes that count alone, so that the same notes without the others stand in the same order.
        self.clock = Clock(history.data.get("zone"), _times(self.visits))
        #: The notes that are judged, in time order: not replaced, not in error. Drafts are among them.
        self.judged = sorted((visit for visit in self.visits if visit.judged), key=lambda visit: visit.order)
        #: The notes that count for what comes after them, in time order.
        self.counted: list[VisitView] = []
        #: The same, to be asked for the newest that says something.
        self.series = Series(self.counted)
        _link(self.judged, self.counted)
        for visit in self.judged:
            for entry in visit.entries:
                entry.wound.take(entry)
        self._policy = policy
        self._today = today
        self._once: dict[tuple[Any, Any], Any] = {}
        #: What ``once`` made of the notes behind those that stay.
        self._more: dict[tuple[Any, Any], Any] = {}
        #: Place of an answer -> the codes of the rules that asked for its words; filled where somebody listens.
        self.leaning: dict[str, set[str]] = {}

    @property
    def looked_at(self) -> list[VisitView]:
        """The notes whose answers are judged: all that are judged, or one alone."""
        return self.judged if self.alone is None else [self.alone]

    @cached_property
    def today(self) -> date | None:
        """The day the record is judged on: the day given, or that of the newest note. Never the clock."""
        if self._today is not None:
            return self._today
        days = [visit.day for visit in self.judged if visit.day is not None]
        return max(days, default=None)

    @property
    def newest(self) -> VisitView | None:
        """The newest note that counts, else the newest draft."""
        return self.counted[-1] if self.counted else self.judged[-1] if self.judged else None

    def limit(self, key: str) -> Decimal:
        """Return a number of the policy.

        Raises
        ------
        LookupError
            Where the record was opened without one.
        """
        if self._policy is None:
            raise LookupError(f"the number {key} is asked for, and the record was opened without a policy")
        return self._policy.number(key)

    def once(self, work: Callable[[list[VisitView], Key, Made | None], Made], key: Key) -> Made:
        """Return what a function makes of the judged notes for a key, worked out once.

        Parameters
        ----------
        work
            A function of a module, not one made in the rule: its answers are kept for the whole record. It is given
            notes in time order and what it made of those before them (None: there are none before), and leaves that
            as it is.
        """
        return again(self, (work, key), lambda: self._made(work, key))

    def _made(self, work: Callable[[list[VisitView], Key, Made | None], Made], key: Key) -> Made:
        made: Made | None = self._once.get((work, key))
        if made is None:
            made = self._once[work, key] = work(self.judged[: self.settled], key, None)
        if self.settled is None:
            return made
        more: Made | None = self._more.get((work, key))
        if more is None:
            more = self._more[work, key] = work(self.judged[self.settled :], key, made)
        return more

    def settle(self) -> None:
        """Let what is worked out of the notes that are here now stay, whatever is put in for a while."""
        self.settled = len(self.judged)

    def unsettle(self) -> None:
        """Forget what was worked out of notes that were put in."""
        self.settled = None
        self._more.clear()

    def path(self, path: str = "") -> str:
        """Return the place in the record."""
        return path

    def listen(self, places: Iterable[str] | None) -> None:
        """Note from now on who asks for the words at some places; None: at none any more."""
        heard = None if places is None else Heard(places)
        for view in (self, self.patient, *self.wounds, *self.visits, *(e for v in self.visits for e in v.entries)):
            view.heard = heard

    def release(self) -> None:
        """Free the views, which point at each other, at once; no view can be used afterwards."""
        for wound in self.wounds:
            wound.judged.clear()
            wound.entries.clear()
            for kept in KEPT:
                wound.__dict__.pop(kept, None)
        for visit in self.visits:
            visit.entries.clear()
        self.__dict__.clear()

    def wound(self, wound_id: str) -> WoundView:
        """Return the wound with this id; KeyError where there is none."""
        return self._by_id[wound_id]

    def find_wound(self, wound_id: str) -> WoundView | None:
        """Return the wound with this id, or None."""
        return self._by_id.get(wound_id)


def open_record(history: History, policy: Limits | None = None) -> RecordView:
    """Open a record to ask it; open it once and pass the view on.

    Examples
    --------
    >>> def seen(at, **groups): return {"id": at, "at": at, "wounds": [{"wound": "W1", **groups}]}
    >>> visits = [
    ...     seen("2026-03-02", assessment={"length": "4.0 cm"}, plan={"next_change": "2026-03-05"}),
    ...     seen("2026-03-09", assessment={"pain_at_rest": "2"}),
    ... ]
    >>> raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": visits}
    >>> wound = open_record(History.of(raw)).wound("W1")
    >>> newest, sized = wound.newest, wound.series.newest_with("assessment.length")
    >>> newest.visit.at, sized.visit.at, sized.before(newest), wound.planned("next_change").visit.at
    ('2026-03-09', '2026-03-02', True, '2026-03-02')
    """
    return RecordView(history, policy)


def counting(history: History) -> History:
    """Return the history with the notes that count alone, oldest first; a note forgets the one it replaced.

    Examples
    --------
    >>> visits = [{"id": "b", "at": "2026-03-02"}, {"id": "a", "at": "2026-03-01"}, {"id": "c", "status": "draft"}]
    >>> found = counting(History.of({"woundfhir": 1, "patient": {}, "visits": visits}))
    >>> [visit["id"] for visit in found.visits]
    ['a', 'b']
    """
    counted = open_record(history).counted
    visits = [{key: value for key, value in visit.data.items() if key != "replaces"} for visit in counted]
    return History({**history.data, "visits": visits}, history.source)


def _times(visits: list[VisitView]) -> Iterator[str | None]:
    for visit in visits:
        if visit.counts:
            yield visit.at
            yield visit.written_at


def _replace(visits: list[VisitView], by_id: dict[str, VisitView], to_come: str | None) -> None:
    """Mark what finished notes replace, themselves or by way of others; each link is followed once."""
    older = {visit.id: visit.replaces for visit in visits if visit.replaces is not None}
    for one in _in_circles(older):
        del older[one]
    starts = [older.get(visit.id) for visit in visits if finished(visit.status)]
    for name in (*starts, to_come):
        while name is not None and not by_id[name].replaced:
            by_id[name].replaced = True
            name = older.get(name)


def _in_circles(older: dict[str, str]) -> list[str]:
    """Return the ids from which the links lead back to themselves."""
    found, seen = [], set[str]()
    for start in older:
        trail: dict[str, None] = {}
        name: str | None = start
        while name is not None and name not in seen:
            seen.add(name)
            trail[name] = None
            name = older.get(name)
        if name in trail:
            names = list(trail)
            found += names[names.index(name) :]
    return found


def _link(visits: list[VisitView], counted: list[VisitView]) -> None:
    for rank, visit in enumerate(visits):
        visit.rank, visit.nth = rank, len(counted)
        visit.previous = counted[-1] if counted else None
        if visit.counts:
            counted.append(visit)
