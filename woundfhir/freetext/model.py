"""What reading a free text gives: readings, hazards to ask about, words that were not read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from woundfhir.catalogue.page import Hazard

#: certain: of today, and in words that mean one thing; likely: a person should look; ask: it may well be
#: something else (about an earlier day, planned, in doubt, without a unit).
Certainty = Literal["certain", "likely", "ask"]
#: A word or a quantity, or the fields of one item of a group.
Value = str | Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Reading:
    """One answer that the text seems to give.

    Attributes
    ----------
    path
        The data element: ``assessment.length``.
    value
        The answer as the record writes it; for a group the fields of one item; for a share word and share.
    start, end
        Where its words stand in the text.
    certainty, why
        How certain, and what speaks against more.
    """

    path: str
    value: Value
    start: int
    end: int
    certainty: Certainty = "certain"
    why: str = ""


@dataclass(frozen=True, slots=True)
class Alarm:
    """A hazard that the text names: it is asked about, coded or not."""

    hazard: Hazard
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Proposal:
    """All that was read in one text.

    Attributes
    ----------
    text
        The text.
    readings
        In the order of the text.
    alarms
        Most urgent first, each hazard once.
    unread
        Spans of words that nothing was made of.
    """

    text: str
    readings: tuple[Reading, ...]
    alarms: tuple[Alarm, ...]
    unread: tuple[tuple[int, int], ...]

    def words(self, one: Reading | Alarm) -> str:
        """Return the words of a reading or an alarm, on one line."""
        return " ".join(self.text[one.start : one.end].split())

    def of(self, certainty: Certainty) -> list[Reading]:
        """Return the readings of one certainty."""
        return [one for one in self.readings if one.certainty == certainty]
