"""Views of a wound, of one visit, and of one wound at one visit; ``views.py`` holds the record."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from functools import cached_property
from itertools import groupby
from typing import Any, Protocol, TypeVar

from woundfhir.catalogue import ENTRY_GROUPS, ENTRY_LISTS, Concept, catalogue
from woundfhir.chart.asking import EMPTY, Answers, is_absent, known
from woundfhir.chart.client import PatientView
from woundfhir.chart.conditional import Conditional
from woundfhir.chart.earlier import InEpisode
from woundfhir.chart.episodes import Standing, after, standings
from woundfhir.chart.header import Header
from woundfhir.chart.leaves import Leaf, leaves
from woundfhir.chart.path_parts import spot
from woundfhir.chart.series import Series
from woundfhir.chart.sides import parted
from woundfhir.chart.steps import changed
from woundfhir.chart.time import Clock, When

Json = Any
Key = TypeVar("Key")
Made = TypeVar("Made")
#: What a ``WoundView`` keeps of what was worked out, and a later note can change.
KEPT = ("standings", "episodes", "now", "earlier", "last_change")


class Whole(Protocol):
    """What the views of wounds and visits need of the record: ``RecordView``."""

    clock: Clock
    patient: PatientView
    wounds: list[WoundView]
    visits: list[VisitView]
    judged: list[VisitView]
    counted: list[VisitView]
    series: Series[VisitView]
    transfer: bool

    @property
    def today(self) -> date | None:
        """The day the record is judged on."""

    @property
    def newest(self) -> VisitView | None:
        """The newest note."""

    def wound(self, wound_id: str) -> WoundView:
        """Return a wound by its id."""

    def find_wound(self, wound_id: str) -> WoundView | None:
        """Return a wound by its id, or None."""

    def limit(self, key: str) -> Decimal:
        """Return a number of the policy."""

    def once(self, work: Callable[[list[VisitView], Key, Made | None], Made], key: Key) -> Made:
        """Return what a function makes of the judged notes for a key, worked out once."""


class WoundView(Conditional):
    """One wound with all that was charted on it, in time order."""

    scope = "wound"

    def __init__(self, record: Whole, index: int, data: dict[str, Json]) -> None:
        super().__init__()
        self.record = record
        self.index = index
        self.data = data
        #: Its answers, the side apart from the site.
        self.answers = parted(data)
        self.id: str = data["id"]
        self.status: str | None = data.get("status")
        #: A wound as such has no time; its notes have.
        self.at: str | None = None
        #: Every judged entry in time order, drafts too.
        self.judged: list[EntryView] = []
        #: The entries that count for a trend: no drafts.
        self.entries: list[EntryView] = []
        #: The same, to be asked for the newest that says something.
        self.series = Series(self.entries)
        #: How it stood before notes that were put in for a while (see ``one_more.py``).
        self.stood: list[Standing] = []

    def take(self, entry: EntryView) -> None:
        """Add the wound's entries, one by one in time order."""
        self.judged.append(entry)
        entry.nth = len(self.entries)
        if entry.visit.counts:
            self.entries.append(entry)

    def _find(self, path: str) -> tuple[Concept, Json]:
        _, key, _, concept, _ = spot(path)
        return concept, self.answers.get(key)

    def path(self, path: str = "") -> str:
        """Return the place in the record; ``wound.kind`` and ``kind`` name the same."""
        path = path.removeprefix("wound.")
        return f"wounds[{self.index}].{path}" if path else f"wounds[{self.index}]"

    @property
    def in_error(self) -> bool:
        """Whether the wound itself was entered in error: it is not judged."""
        return self.status == "entered in error"

    @property
    def closed(self) -> bool:
        """Whether it is charted as closed, and no note after that day found it open again."""
        day = self.record.clock.when(self.data.get("closed"))
        again = len(self.episodes) > 1 and day.before(self.episode[0].visit.when)
        return not again and (self.status == "closed" or known(self.data.get("closed")))

    @property
    def newest(self) -> EntryView | None:
        """The newest entry that counts, else the newest draft."""
        return self.entries[-1] if self.entries else self.judged[-1] if self.judged else None

    @cached_property
    def standings(self) -> list[Standing]:
        """How the wound stands before the first of its entries that count, and after each of them."""
        return standings(self)

    @cached_property
    def episodes(self) -> list[list[EntryView]]:
        """The entries that count, oldest first, by episode: see ``woundfhir.chart.episodes``."""
        found = zip(self.entries, self.standings[1:], strict=True)
        return [[entry for entry, _ in one] for _, one in groupby(found, key=lambda pair: pair[1].start)]

    @property
    def episode(self) -> list[EntryView]:
        """The entries of the newest episode: what is compared, and what is on the wound now."""
        return self.episodes[-1] if self.episodes else []

    @cached_property
    def now(self) -> Series[EntryView]:
        """The newest episode, to be asked for the newest that says something."""
        return Series(self.episode)

    @cached_property
    def earlier(self) -> Series[EntryView]:
        """What was charted before the wound opened again, to be asked in the same way."""
        return Series(self.entries[: self.episode[0].nth] if self.episode else [])

    @cached_property
    def last_change(self) -> EntryView | None:
        """The newest entry that counts at which something was taken off or put on."""
        return self.series.newest_that(changed)

    def planned(self, key: str) -> EntryView | None:
        """Return the newest entry at or after the last change that plans something, such as ``next_change``.

        A plan from before the last change, or from before the wound opened again, is no longer due.
        """
        found = self.series.newest_with(f"plan.{key}")
        return None if found is None or found.nth < self.due_from else found

    @property
    def due_from(self) -> int:
        """The place in ``entries`` from which on a plan is still due."""
        last = self.last_change
        return max(0 if last is None else last.nth, self.episode[0].nth if self.episode else 0)

    @property
    def patient(self) -> PatientView:
        """The client."""
        return self.record.patient

    def leaves(self) -> list[Leaf]:
        """Return every answer about the wound itself."""
        return leaves(catalogue().groups["wound"], self.answers, self.path())


class VisitView(Header):
    """One visit: its note's header and what was charted about the whole client."""

    record: Whole
    #: The newest earlier note that counts.
    previous: VisitView | None = None
    #: Its place among the judged notes, oldest 0.
    rank = 0

    def __init__(self, record: Whole, index: int, data: dict[str, Json]) -> None:
        super().__init__(record, index, data)
        self.entries = [EntryView(self, i, one) for i, one in enumerate(data.get("wounds", ()))]

    @property
    def patient(self) -> PatientView:
        """The client."""
        return self.record.patient

    @property
    def series(self) -> Series[VisitView]:
        """The notes of the record that count."""
        return self.record.series


class EntryView(InEpisode):
    """One wound at one visit; also asked for ``visit``, ``client`` and ``wound``."""

    scope = "entry"

    def __init__(self, visit: VisitView, index: int, data: dict[str, Json]) -> None:
        super().__init__()
        self.record = visit.record
        self.visit = visit
        self.index = index
        self.data = data
        self.wound = visit.record.wound(data["wound"])
        self._groups: dict[str, Answers] = {
            **{group: data.get(group, EMPTY) for group in ENTRY_GROUPS},
            "wound": self.wound.answers,
            "visit": visit.data,
            "client": visit.data.get("client", EMPTY),
        }

    @property
    def patient(self) -> PatientView:
        """The client."""
        return self.record.patient

    @property
    def draft(self) -> bool:
        """Whether the note is not finished."""
        return self.visit.draft

    @property
    def at(self) -> str | None:
        """The time of the visit, as written."""
        return self.visit.at

    @property
    def day(self) -> date | None:
        """The calendar day of the visit."""
        return self.visit.day

    @cached_property
    def purposes(self) -> frozenset[str]:
        """The words of what the visit was for, for this wound (``plan.purpose_here``), else those of the visit."""
        return frozenset(self.words("plan.purpose_here")) or self.visit.purposes

    @property
    def when(self) -> When:
        """When the visit was."""
        return self.visit.when

    @property
    def series(self) -> Series[EntryView]:
        """The entries of the wound that count."""
        return self.wound.series

    @property
    def previous(self) -> EntryView | None:
        """The wound's newest earlier entry that counts."""
        return self.wound.entries[self.nth - 1] if self.nth else None

    @cached_property
    def episode_start(self) -> int:
        """The place in the wound's ``entries`` where the episode of this entry begins; nothing before is compared."""
        found = self.wound.standings
        return found[self.nth + 1].start if self.visit.counts else after(found[self.nth], self).start

    def _find(self, path: str) -> tuple[Concept, Json]:
        group, key, field, concept, in_list = spot(path)
        value = self._groups[group].get(key)
        if field:
            if in_list:
                raise KeyError(f"{group}.{key} has many items: ask for its items")
            value = value.get(field) if type(value) is dict and not is_absent(value) else None
        return concept, value

    def path(self, path: str = "") -> str:
        """Return the place in the record."""
        if path.startswith("wound."):
            return self.wound.path(path)
        if path.startswith(("visit.", "client.")):
            return self.visit.path(path)
        where = f"visits[{self.visit.index}].wounds[{self.index}]"
        return f"{where}.{path}" if path else where

    def wrote(self, group: str) -> bool:
        """Whether the note holds anything of a group: ``assessment``, ``care``, ``plan``, ``supplies``, ``photos``."""
        return bool(self.data.get(group))

    @cached_property
    def _leaves(self) -> list[Leaf]:
        groups = catalogue().groups
        out: list[Leaf] = []
        for key in ENTRY_GROUPS:
            if answers := self.data.get(key):
                out += leaves(groups[key], answers, self.path(key))
        for key, group in ENTRY_LISTS.items():
            for index, one in enumerate(self.data.get(key, ())):
                out += leaves(groups[group], one, self.path(f"{key}[{index}]"))
        return out

    def leaves(self) -> list[Leaf]:
        """Return every answer of the entry, the fields of groups too."""
        return self._leaves
