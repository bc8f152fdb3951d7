"""What the answers of a record say of the hollows of a wound: hours, depths, and the words for them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from woundfhir.drawing.texts import say
from woundfhir.record import spoken
from woundfhir.record.units import MeasureError, amount

Json = Any
#: Larger than any body: such a size stands in words and is not drawn.
_MOST = 300


def centimetres(answer: Json, spellings: Mapping[str, str] | None = None) -> float | None:
    """Return a length answer in cm, or None where there is none to draw: no unit, a bound, zero, words.

    Examples
    --------
    >>> centimetres("41 mm", {}), centimetres("4.1", {}), centimetres("<1 cm", {})
    (4.1, None, None)
    """
    try:
        value = amount(answer, "cm", spellings_of_units() if spellings is None else spellings)
    except MeasureError:
        return None
    return float(value) if value is not None and 0 < value <= _MOST else None


def spellings_of_units() -> Mapping[str, str]:
    """Return the spellings of units that the catalogue knows; it is loaded only when asked for."""
    from woundfhir.catalogue import catalogue

    return catalogue().units


def hour(answer: Json) -> int | None:
    """Return a clock position of 1 to 12, or None.

    Examples
    --------
    >>> hour("12"), hour("0"), hour("2.5"), hour("two")
    (12, None, None, None)
    """
    whole = isinstance(answer, str) and answer.isascii() and answer.isdigit() and len(answer) < 3
    return int(answer) if whole and 1 <= int(answer) <= 12 else None


@dataclass(frozen=True, slots=True)
class Way:
    """An undermined arc (from, to) or a tunnel (from is its hour, to is None), and what is written of it."""

    start: int | None
    stop: int | None
    depth: float | None
    words: str
    label: str = ""
    end_felt: str | None = None

    @property
    def drawn(self) -> bool:
        """Whether there are an hour and a depth to draw."""
        return self.start is not None and self.depth is not None


def _items(answer: Json) -> Sequence[Mapping[str, Json]]:
    return [item for item in answer if isinstance(item, dict)] if isinstance(answer, list) else []


def plain(what: str, answer: Json) -> list[str]:
    """Return an answer in plain words ("none"), as a sentence."""
    if not isinstance(answer, str) or not answer:
        return []
    return [say("clock.plain", what=say(f"clock.{what}"), words=spoken.nothing(answer))]


def as_written(answer: Json) -> str:
    """Return an answer as written, numbers as the language writes them."""
    return spoken.number(answer) if isinstance(answer, str) and answer else say("clock.not_written")


def arcs_in(answer: Json, known: Mapping[str, str]) -> list[Way]:
    """Return the undermined arcs of an answer; one without both hours stands in words and is not drawn."""
    found = []
    for item in _items(answer):
        start, stop = item.get("from"), item.get("to")
        place = say("clock.no_hour")
        if start or stop:
            place = say("clock.arc", start=as_written(start), stop=as_written(stop))
        words = say("clock.undermined", place=place, depth=as_written(item.get("depth")))
        hours = (hour(start), hour(stop))
        if hours[0] is None or hours[1] is None:
            hours = (None, None)
        found.append(Way(*hours, centimetres(item.get("depth"), known), words, as_written(item.get("depth"))))
    return found


def tunnels_in(answer: Json, known: Mapping[str, str]) -> list[Way]:
    """Return the tunnels of an answer."""
    found = []
    for item in _items(answer):
        felt = str(item.get("end_felt"))
        end = say({"yes": "clock.felt", "no": "clock.not_felt"}.get(felt, "clock.felt_missing"))
        hour_, depth = as_written(item.get("clock")), item.get("depth")
        words = say("clock.tunnel", hour=hour_, depth=as_written(depth), end=end)
        found.append(Way(hour(item.get("clock")), None, centimetres(depth, known), words, as_written(depth), felt))
    return found
