"""A joined record, and where its two sides say different things."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from woundfhir.handover.difference import Difference
from woundfhir.handover.texts import say
from woundfhir.messages import translated
from woundfhir.record import History

Json = Any


@dataclass(frozen=True, slots=True)
class Conflict:
    """One place at which the two sides say different things."""

    place: str
    why: str
    differences: tuple[Difference, ...] = ()

    def lines(self, *, show_values: bool = False) -> list[str]:
        """Return it in words; answers only when asked for."""
        named = (say("difference.known"), say("difference.came"))
        return [say("difference.conflict", place=self.place, why=translated(self.why))] + [
            "  " + one.line(show_values=show_values, names=named, placed=False) for one in self.differences
        ]

    def json(self, *, show_values: bool = False) -> dict[str, Json]:
        """Return it as plain data; answers only when asked for."""
        differences = [one.json(show_values=show_values) for one in self.differences]
        return {"place": self.place, "why": self.why, "differences": differences}


@dataclass(slots=True)
class Merged:
    """A joined record and how it came about.

    Parameters
    ----------
    history
        The joined record.
    added, duplicates, replaced
        Places in words: new here; already here word for word; replaced by a later state (or kept as an earlier one).
    conflicts
        Where the two say different things.
    """

    history: History
    added: list[str] = field(default_factory=list)
    duplicates: list[str] = field(default_factory=list)
    replaced: list[str] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)
