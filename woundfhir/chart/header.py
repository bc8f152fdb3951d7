"""The header of a note: when it was, whether it counts, what the visit was for, and what is about the whole client."""

from __future__ import annotations

from datetime import date
from functools import cached_property
from typing import Any, Protocol

from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart.asking import EMPTY, Answers
from woundfhir.chart.earlier import InTime
from woundfhir.chart.heard import again
from woundfhir.chart.leaves import Leaf, leaves
from woundfhir.chart.path_parts import spot
from woundfhir.chart.time import Clock, When
from woundfhir.record import dates

Json = Any


def finished(status: str | None) -> bool:
    """Whether a note is neither a draft nor entered in error. A draft does not replace another note until it is final.

    Examples
    --------
    >>> finished("final"), finished(None), finished("draft"), finished("entered in error")
    (True, True, False, False)
    """
    return status not in ("draft", "entered in error")


class Timed(Protocol):
    """What a header needs of the record."""

    clock: Clock


class Header(InTime):
    """What a note says of itself and of the whole client, whatever it says of wounds."""

    scope = "visit"

    def __init__(self, record: Timed, index: int, data: dict[str, Json]) -> None:
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
        #: Whether a finished note replaces it, itself or by way of others that replace each other.
        self.replaced = False

    @cached_property
    def when(self) -> When:
        """When the visit was; see ``woundfhir.chart.time``."""
        return self.record.clock.when(self.at, self.written_at)

    @property
    def order(self) -> tuple[int, int, int]:
        """Where it stands among all notes: by its time, then by the time of writing, then as the record has them."""
        return self.when.order, self.record.clock.when(self.written_at).order, self.index

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
        return not self.replaced and finished(self.status)

    @cached_property
    def day(self) -> date | None:
        """The calendar day of the visit, or None for a partial date."""
        return dates.day(self.at)

    @property
    def purposes(self) -> frozenset[str]:
        """The words of the visit's purpose."""
        return again(self, "purposes", lambda: self._purposes)

    @cached_property
    def _purposes(self) -> frozenset[str]:
        return frozenset(self.words("visit.purpose"))

    def _find(self, path: str) -> tuple[Concept, Json]:
        group, key, _, concept, _ = spot(path)
        answers = self.data if group == "visit" else self.data.get(group, EMPTY)
        return concept, answers.get(key)

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
