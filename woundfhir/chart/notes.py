"""Views of one visit and of one wound at one visit; ``views.py`` holds the record, the client and the wound."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart.asking import EMPTY, Answers, Asked, Leaf, is_absent, leaves, spot
from woundfhir.chart.conditions import holds
from woundfhir.record import dates
from woundfhir.record.history import finished

if TYPE_CHECKING:
    from woundfhir.chart.views import PatientView, RecordView

Json = Any


class Marks:
    """Which notes of a series pass a test: looked at once each, so that a long history stays cheap.

    ``last[i]`` is the place of the newest note up to ``i`` that passes, or -1.
    """

    __slots__ = ("_last", "_test")

    def __init__(self, test: Callable[[Any], object]) -> None:
        self._test = test
        self._last: list[int] = []

    def newest(self, series: Sequence[Any], end: int) -> int:
        """Return the place of the newest of the first ``end`` notes that passes, or -1."""
        last = self._last
        for place in range(len(last), end):
            last.append(place if self._test(series[place]) else last[-1] if last else -1)
        return last[end - 1] if end else -1


class Conditional(Asked):
    """A view that can be asked for named conditions."""

    scope: Literal["record", "patient", "wound", "visit", "entry"]
    _held: dict[str, bool]

    def __init__(self) -> None:
        super().__init__()
        self._held = {}

    def holds(self, *names: str) -> bool:
        """Whether all the named conditions hold (``woundfhir.chart.conditions`` lists them)."""
        return all(holds(self, name) for name in names)


class VisitView(Conditional):
    """One visit: its note's header and what was charted about the whole client."""

    scope = "visit"
    #: The newest earlier note that counts.
    previous: VisitView | None = None
    #: Its place among the judged notes, oldest 0.
    rank = 0
    #: How many notes that count came before it.
    nth = 0

    def __init__(self, record: RecordView, index: int, data: Answers) -> None:
        super().__init__()
        self.record = record
        self.index = index
        self.data = data
        self.id: str = data["id"]
        self.at: str | None = data.get("at")
        self.written_at: str | None = data.get("written")
        self.status: str | None = data.get("status")
        self.by: Answers = data.get("by", EMPTY)
        self.replaces: str | None = data.get("replaces")
        self.replaced = False
        self.entries = [EntryView(self, i, one) for i, one in enumerate(data.get("wounds", ()))]

    @property
    def draft(self) -> bool:
        """Whether the note is not finished: its gaps are information."""
        return self.status == "draft"

    @property
    def judged(self) -> bool:
        """Whether the checklist looks at it: not replaced, not in error."""
        return not self.replaced and self.status != "entered in error"

    @property
    def counts(self) -> bool:
        """Whether it counts for what comes after it: judged, and no draft."""
        return not self.replaced and finished(self.data)

    @cached_property
    def day(self) -> date | None:
        """The calendar day of the visit, or None for a partial date."""
        return dates.day(self.at)

    @property
    def patient(self) -> PatientView:
        """The client."""
        return self.record.patient

    @cached_property
    def purposes(self) -> frozenset[str]:
        """The words of the visit's purpose."""
        return frozenset(self.words("visit.purpose"))

    def _find(self, path: str) -> tuple[Concept, Json]:
        group, key, _, concept, _ = spot(path)
        answers = self.data if group == "visit" else self.data.get(group, EMPTY)
        return concept, answers.get(key)

    def latest(self, test: Callable[[VisitView], object]) -> VisitView | None:
        """Return the newest earlier note that counts and passes a test; see ``EntryView.latest``."""
        record = self.record
        marks = record.marks.get(test)
        if marks is None:
            marks = record.marks[test] = Marks(test)
        place = marks.newest(record.counted, self.nth)
        return None if place < 0 else record.counted[place]

    def answered_before(self, path: str) -> bool:
        """Whether an earlier note that counts has an answer; looked for once for the whole record."""
        first = self.record.first_answers
        if path not in first:
            first[path] = next((one.rank for one in self.record.judged if one.counts and one.written(path)), None)
        found = first[path]
        return found is not None and found < self.rank

    def path(self, path: str = "") -> str:
        """Return the place in the record; ``visit.setting`` and ``setting`` name the same."""
        path = path.removeprefix("visit.")
        return f"visits[{self.index}].{path}" if path else f"visits[{self.index}]"

    def leaves(self) -> list[Leaf]:
        """Return every answer about the visit and the whole client; those of the wounds stand in the entries."""
        groups, place = catalogue().groups, self.path()
        return [
            *leaves(groups["visit"], self.data, place),
            *leaves(groups["client"], self.data.get("client", EMPTY), f"{place}.client"),
        ]


class EntryView(Conditional):
    """One wound at one visit; also asked for ``visit``, ``client`` and ``wound``."""

    scope = "entry"

    def __init__(self, visit: VisitView, index: int, data: Answers) -> None:
        super().__init__()
        self.record = visit.record
        self.visit = visit
        self.index = index
        self.data = data
        self.wound = visit.record.wound(data["wound"])
        #: How many entries of this wound that count came before it.
        self.nth = 0
        self._groups: dict[str, Answers] = {
            **{group: data.get(group, EMPTY) for group in ("assessment", "care", "plan")},
            "wound": self.wound.data,
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
    def day(self) -> date | None:
        """The calendar day of the visit."""
        return self.visit.day

    @property
    def previous(self) -> EntryView | None:
        """The wound's newest earlier entry that counts."""
        return self.wound.entries[self.nth - 1] if self.nth else None

    @property
    def earlier(self) -> list[EntryView]:
        """The wound's earlier entries that count, oldest first. For one of them, ``latest`` is cheaper."""
        return self.wound.entries[: self.nth]

    def latest(self, test: Callable[[EntryView], object]) -> EntryView | None:
        """Return the wound's newest earlier entry that counts and passes a test.

        Parameters
        ----------
        test
            A function of a module, not one made in the rule: its answers are kept for the whole wound.
        """
        marks = self.wound.marks.get(test)
        if marks is None:
            marks = self.wound.marks[test] = Marks(test)
        place = marks.newest(self.wound.entries, self.nth)
        return None if place < 0 else self.wound.entries[place]

    def _find(self, path: str) -> tuple[Concept, Json]:
        group, key, field, concept, in_list = spot(path)
        value = self._groups[group].get(key)
        if field:
            if in_list:
                raise KeyError(f"{group}.{key} has many items: ask for its items")
            value = value.get(field) if type(value) is dict and not is_absent(value) else None
        return concept, value

    def answered_before(self, path: str) -> bool:
        """Whether an earlier entry of the wound that counts has an answer; looked for once for the whole wound."""
        first = self.wound.first_answers
        if path not in first:
            first[path] = next((one.nth for one in self.wound.entries if one.written(path)), None)
        found = first[path]
        return found is not None and found < self.nth

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
        for key in ("assessment", "care", "plan"):
            if answers := self.data.get(key):
                out += leaves(groups[key], answers, self.path(key))
        for key, group in (("supplies", "supply"), ("photos", "photo")):
            for index, one in enumerate(self.data.get(key, ())):
                out += leaves(groups[group], one, self.path(f"{key}[{index}]"))
        return out

    def leaves(self) -> list[Leaf]:
        """Return every answer of the entry, the fields of groups too."""
        return self._leaves
