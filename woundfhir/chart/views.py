"""Read-only views of a record for the writers of rules: cheap, ordered in time, without copies.

Notes that were replaced or entered in error, and drafts, stay out of trends: ``previous`` and ``earlier`` never
give one. The times of a note are ordered by ``at``, then ``written``; a note without both keeps its place.
"""

from __future__ import annotations

from datetime import UTC, date
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart.asking import Answers, Item, Leaf, is_absent, leaves, spot
from woundfhir.chart.notes import Conditional, EntryView, Marks, VisitView
from woundfhir.record import History, dates
from woundfhir.record.history import finished

if TYPE_CHECKING:
    from woundfhir.checklist.policy import Policy

Json = Any

__all__ = ["EntryView", "Item", "Leaf", "PatientView", "RecordView", "VisitView", "WoundView"]

_INACTIVE = frozenset(("inactive", "resolved", "refuted", "entered in error", "entered-in-error"))


class RecordView(Conditional):
    """One client's whole record."""

    scope = "record"

    def __init__(self, history: History, policy: Policy, *, transfer: bool = False, today: date | None = None) -> None:
        super().__init__()
        #: Path -> rank of the first note that counts and answers it; see ``VisitView.answered_before``.
        self.first_answers: dict[str, int | None] = {}
        self.data = history.data
        self.policy = policy
        #: Whether the newest note is judged as a hand-over, whatever its purpose says.
        self.transfer = transfer
        self.patient = PatientView(self, history.data["patient"])
        self.wounds = [WoundView(self, i, data) for i, data in enumerate(history.data["wounds"])]
        self._by_id = {wound.id: wound for wound in self.wounds}
        #: All notes in the order written; those that were replaced and those in error too.
        self.visits = [VisitView(self, i, data) for i, data in enumerate(history.data["visits"])]
        self.visit_by_id = {visit.id: visit for visit in self.visits}
        replacing = [v for v in self.visits if v.replaces and finished(v.data)]
        for visit in replacing:
            self.visit_by_id[visit.replaces].replaced = True  # type: ignore[index]
        #: The notes that are judged, in time order: not replaced, not in error. Drafts are among them.
        self.judged = _in_time([visit for visit in self.visits if visit.judged])
        #: The notes that count for what comes after them, in time order.
        self.counted: list[VisitView] = []
        #: See ``VisitView.latest``.
        self.marks: dict[Any, Marks] = {}
        _link(self.judged, self.counted)
        for visit in self.judged:
            for entry in visit.entries:
                entry.wound.take(entry)
        self._today = today

    @cached_property
    def today(self) -> date | None:
        """The day the record is judged on: the day given, or that of the newest note. Never the clock."""
        if self._today is not None:
            return self._today
        days = [visit.day for visit in self.judged if visit.day is not None]
        return max(days, default=None)

    @property
    def newest(self) -> VisitView | None:
        """The newest note that is judged."""
        return self.judged[-1] if self.judged else None

    def path(self, path: str = "") -> str:
        """Return the place in the record."""
        return path

    def release(self) -> None:
        """Let go of the views, which point at each other, so that they are freed at once; no view is used after it."""
        for wound in self.wounds:
            wound.judged.clear()
            wound.entries.clear()
        for visit in self.visits:
            visit.entries.clear()
        self.__dict__.clear()

    def wound(self, wound_id: str) -> WoundView:
        """Return the wound with this id."""
        return self._by_id[wound_id]


class PatientView(Conditional):
    """The client."""

    scope = "patient"

    def __init__(self, record: RecordView, data: Answers) -> None:
        super().__init__()
        self.record = record
        self.data = data

    def path(self, path: str = "") -> str:
        """Return the place in the record."""
        return f"patient.{path}" if path else "patient"

    def given(self, key: str) -> Json:
        """Return what stands under a key of the client: name, born, identifiers, allergies, conditions, contact ..."""
        return self.data.get(key)

    @property
    def allergies(self) -> list[dict[str, str]]:
        """Allergies as written; empty where none is known, and where nothing is written."""
        found = self.data.get("allergies")
        return found if type(found) is list else []

    def says_none(self, key: str) -> bool:
        """Whether ``allergies`` or ``conditions`` is written as ``{none: known}``."""
        found = self.data.get(key)
        return type(found) is dict and "none" in found

    def says_absent(self, key: str) -> bool:
        """Whether ``allergies`` or ``conditions`` carries a reason instead of a list."""
        return is_absent(self.data.get(key))

    def allergic_to(self, *words: str) -> list[str]:
        """Return the paths of active allergies whose name holds one of the words."""
        out = []
        for index, one in enumerate(self.allergies):
            to = one.get("to", "").casefold()
            if one.get("status", "").casefold() not in _INACTIVE and any(word in to for word in words):
                out.append(f"patient.allergies[{index}]")
        return out

    def has_condition(self, *words: str) -> list[str]:
        """Return the paths of conditions whose name holds one of the words."""
        found = self.data.get("conditions")
        texts = found if type(found) is list else []
        return [f"patient.conditions[{i}]" for i, one in enumerate(texts) if any(w in one.casefold() for w in words)]


class WoundView(Conditional):
    """One wound with all that was charted on it, in time order."""

    scope = "wound"

    def __init__(self, record: RecordView, index: int, data: Answers) -> None:
        super().__init__()
        self.record = record
        self.index = index
        self.data = data
        self.id: str = data["id"]
        self.status: str | None = data.get("status")
        #: Every judged entry in time order, drafts too.
        self.judged: list[EntryView] = []
        #: See ``EntryView.latest``.
        self.marks: dict[Any, Marks] = {}
        #: Path -> number of the first entry that counts and answers it; see ``EntryView.answered_before``.
        self.first_answers: dict[str, int | None] = {}
        #: The entries that count for a trend: no drafts.
        self.entries: list[EntryView] = []

    def take(self, entry: EntryView) -> None:
        """Take the wound's entries, one by one in time order."""
        self.judged.append(entry)
        entry.nth = len(self.entries)
        if entry.visit.counts:
            self.entries.append(entry)

    def _find(self, path: str) -> tuple[Concept, Json]:
        _, key, _, concept, _ = spot(path)
        return concept, self.data.get(key)

    def path(self, path: str = "") -> str:
        """Return the place in the record; ``wound.kind`` and ``kind`` name the same."""
        path = path.removeprefix("wound.")
        return f"wounds[{self.index}].{path}" if path else f"wounds[{self.index}]"

    @property
    def in_error(self) -> bool:
        """Whether the wound itself was entered in error: it is not judged."""
        return self.status == "entered in error"

    @property
    def newest(self) -> EntryView | None:
        """The newest entry that counts, else the newest draft."""
        return self.entries[-1] if self.entries else self.judged[-1] if self.judged else None

    @property
    def patient(self) -> PatientView:
        """The client."""
        return self.record.patient

    def leaves(self) -> list[Leaf]:
        """Return every answer about the wound itself."""
        return leaves(catalogue().groups["wound"], self.data, self.path())


@lru_cache(maxsize=65536)
def _instant(text: str | None) -> float | None:
    found = dates.moment(text)
    if found is None:
        return None
    return (found if found.tzinfo else found.replace(tzinfo=UTC)).timestamp()


def _in_time(visits: list[VisitView]) -> list[VisitView]:
    """Return visits ordered in time; one without a time stays behind the one written before it."""
    keys, last = [], float("-inf")
    for place, visit in enumerate(visits):
        found = _instant(visit.at)
        last = found if found is not None else _instant(visit.written_at) or last
        keys.append((last, place))
    return [visits[place] for _, place in sorted(keys)]


def _link(visits: list[VisitView], counted: list[VisitView]) -> None:
    for rank, visit in enumerate(visits):
        visit.rank, visit.nth = rank, len(counted)
        visit.previous = counted[-1] if counted else None
        if visit.counts:
            counted.append(visit)
