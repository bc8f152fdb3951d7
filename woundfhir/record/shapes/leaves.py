"""The shapes whose answer is one text: numbers, words, dates."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.record import dates, quantity, spoken
from woundfhir.record.rhythm import rhythm
from woundfhir.record.shapes.base import Leaf, Unknown, in_sentence

Json = Any

#: An hour of the clock face: "4", "4 o'clock", and in French "à 4 h", which looks like a time of day and is none.
_HOUR = re.compile(r"(?:à\s*)?0?([1-9]|1[0-2])(?:\s*(?:o'?clock|h|heures?))?", re.IGNORECASE)
_HOURS = tuple(str(hour) for hour in range(1, 13))
_WHOLE = re.compile(r"\d{1,6}")
#: Points as people write them on a scale of ten.
_OF_TEN = re.compile(r"(\d{1,2})\s*(?:/|out of|of|sur)\s*10", re.IGNORECASE)
_FLAGS = {"y": "yes", "n": "no", "true": "yes", "false": "no", "yes": "yes", "no": "no", "oui": "yes", "non": "no"}
_TESTS = {"positive": "yes", "negative": "no", "pos": "yes", "neg": "no", "+ve": "yes", "-ve": "no"}
_TESTS |= {"positif": "yes", "négatif": "no", "negatif": "no", "négative": "no"}
_TESTS |= {"+": "yes", "ptb+": "yes", "ptb +": "yes", "ptb positive": "yes", "ptb pos": "yes", "probes to bone": "yes"}
_TESTS |= {"ptb negative": "no", "ptb neg": "no", "ptb -ve": "no", "does not probe to bone": "no"}
_TESTS |= {"contact osseux": "yes", "contact osseux positif": "yes", "pas de contact osseux": "no"}


class Text(Leaf):
    """``text``: words."""

    name = "text"
    free = True

    def words(self, concept: Concept, value: Json) -> str:
        return spoken.free(str(value))


class Choice(Leaf):
    """``choice``: one word of a list, or other words."""

    name = "choice"

    def words(self, concept: Concept, value: Json) -> str:
        return spoken.word(concept, str(value))


class Flag(Leaf):
    """``flag``: yes or no."""

    name = "flag"

    def canonical(self, concept: Concept, value: Json, zone: str | None, unknown: Unknown) -> str | None:
        found = super().canonical(concept, value, zone, unknown)
        # A test whose yes is a finding is positive or negative.
        return _TESTS.get(found.casefold(), found) if found and "yes" in concept.page.hazards else found

    def tidy(self, written: str, zone: str | None) -> str:
        return _FLAGS.get(written.casefold(), written)

    def judge(self, concept: Concept, text: str) -> str | None:
        return None if text in ("yes", "no") else "flag"

    def words(self, concept: Concept, value: Json) -> str:
        return spoken.flag(str(value))

    def labelled(self, concept: Concept, value: Json, *, bare: bool = False) -> str:
        if value == "yes" and not bare and "{}" not in concept.page.short:
            return in_sentence(concept.label)
        return super().labelled(concept, value, bare=bare)

    def examples(self, concept: Concept) -> list[str]:
        return ["yes", "no"]


class Clock(Leaf):
    """``clock``: an hour of the clock face, 1 to 12, the client's head at 12."""

    name = "clock"

    def tidy(self, written: str, zone: str | None) -> str:
        hour = _HOUR.fullmatch(written)
        return hour[1] if hour else written

    def judge(self, concept: Concept, text: str) -> str | None:
        return None if text in _HOURS else "clock"

    def examples(self, concept: Concept) -> list[str]:
        return ["12", "3"]


class Date(Leaf):
    """``date``: as much of a date as is known, or a date with its clock time."""

    name = "date"

    def tidy(self, written: str, zone: str | None) -> str:
        return dates.tidy(written, zone)

    def judge(self, concept: Concept, text: str) -> str | None:
        return dates.fault(text)

    def examples(self, concept: Concept) -> list[str]:
        return ["2026-03-02", "2026-03"]


class _Number(Leaf):
    """What all numbers share: their limits."""

    #: The smallest number where the concept gives none.
    least: str | None = None

    def limits(self, concept: Concept) -> tuple[str | None, str | None]:
        return (self.least if concept.low is None else concept.low), concept.high

    def in_range(self, concept: Concept, text: str) -> str | None:
        """Return ``range`` for a number outside the limits."""
        found = quantity.parse(text)
        if found is None:
            return None
        low, high = self.limits(concept)
        outside = (low is not None and found.value < Decimal(low)) or (high is not None and found.value > Decimal(high))
        return "range" if outside else None


class Quantity(_Number):
    """``quantity``: a number with its unit, exact as written."""

    name = "quantity"

    def words(self, concept: Concept, value: Json) -> str:
        return spoken.word(concept, str(value)) if concept.answers else spoken.number(str(value))

    def tidy(self, written: str, zone: str | None) -> str:
        return quantity.tidy(written)

    def judge(self, concept: Concept, text: str) -> str | None:
        found = quantity.parse(text)
        if found is None:
            return "number"
        wanted = self.unit(concept)
        if found.unit is None:
            return "bare" if wanted is not None else self.in_range(concept, text)
        unit, known = catalogue().units.get(found.unit), self.units(concept)
        if known and unit not in known:
            return "unit"
        return self.in_range(concept, text) if unit == concept.unit or concept.unit is None else None

    def examples(self, concept: Concept) -> list[str]:
        if concept.answers:
            return super().examples(concept)
        unit, low = self.unit(concept), self.limits(concept)[0]
        number = "1" if low is None or Decimal(low) < 1 else low
        return [f"{number} {unit}" if unit else number]


class Interval(Quantity):
    """``interval``: a length of time, or a rhythm in words (3 times a week, Mon Wed Fri, 2-3 d)."""

    name = "interval"
    least = "0"

    def tidy(self, written: str, zone: str | None) -> str:
        return written if rhythm(written) else super().tidy(written, zone)

    def words(self, concept: Concept, value: Json) -> str:
        return spoken.often(str(value))

    def judge(self, concept: Concept, text: str) -> str | None:
        return None if rhythm(text) else super().judge(concept, text)

    def unit(self, concept: Concept) -> str | None:
        return concept.unit or "d"

    def units(self, concept: Concept) -> tuple[str, ...]:
        return ("min", "h", "d", "wk", "mo", "a")


class _Whole(_Number):
    """A whole number without a unit."""

    least = "0"

    def judge(self, concept: Concept, text: str) -> str | None:
        return self.in_range(concept, text) if _WHOLE.fullmatch(text) else "whole"

    def examples(self, concept: Concept) -> list[str]:
        return [self.limits(concept)[0] or "0"]


class Score(_Whole):
    """``score``: points on a scale."""

    name = "score"

    def tidy(self, written: str, zone: str | None) -> str:
        """Return the points of ``4/10``; everything else as it stands."""
        found = _OF_TEN.fullmatch(written.strip())
        return found[1] if found else super().tidy(written, zone)


class Count(_Whole):
    """``count``: how many."""

    name = "count"
