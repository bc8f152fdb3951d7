"""The wound as it is being measured: its area, the change since last time, and its clock face, drawn as one writes.

The numbers are those of ``measures``, the drawing that of ``drawing``: nothing is worked out here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from woundfhir.chart.conditions import SIZES
from woundfhir.chart.views import EntryView
from woundfhir.drawing.clock import clock_face, clock_span
from woundfhir.handover.summary.course import sizes
from woundfhir.measures.course import course
from woundfhir.measures.words import size_text
from woundfhir.page.sight import Sight
from woundfhir.page.texts import say

Json = Any
_PARTS = ("length", "width", "undermining", "tunnels")


@dataclass(frozen=True, slots=True)
class Shape:
    """What is shown of a wound's size.

    Attributes
    ----------
    area
        In words; empty where it is not known yet.
    change
        The change of area since the size before, with its day, or why there is none; empty for a first size.
    face
        The clock face (SVG); empty where there is nothing to draw.
    """

    area: str = ""
    change: str = ""
    face: str = ""


def shape(sight: Sight) -> Shape:
    """Return the shape of the wound as it stands in the note that is being written."""
    entry = sight.entry
    parts = _parts(entry)
    if not any(parts):
        return Shape()
    area = change = ""
    if any(entry.has(path) for path in SIZES):
        found = sizes(entry.wound.episode, course(entry.record, entry.wound.id))
        here = found.size is not None and found.size.point is not None and found.size.point.visit == entry.visit.id
        if found.size is not None and found.size.point is not None and here:
            area = size_text(found.size.point)
            change = "" if found.since_last is None else found.since_last.dated
    last = entry.latest(_drawn)
    span = max(clock_span(*parts), 0.0 if last is None else clock_span(*_parts(last)))
    drawn = clock_face(*parts, title=say("shape.title"), side=270, span=span)
    return Shape(area, change, Markup(drawn.decode()))  # made by our own writer, which escapes


def _parts(entry: EntryView) -> tuple[Json, ...]:
    return tuple(entry.answer(f"assessment.{key}") for key in _PARTS)


def _drawn(entry: EntryView) -> bool:
    return any(_parts(entry)[:2])
