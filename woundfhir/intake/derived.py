"""Computed values as Observations with ``derivedFrom`` their inputs; recomputed, never trusted, when they come in.

They are a view of the record: a document carries them, reading drops them again, and one that differs from
what the record gives is reported.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from woundfhir.fhir import build
from woundfhir.fhir.ids import escape
from woundfhir.fhir.write_context import VisitContext, WriteContext
from woundfhir.language import ENGLISH, speaking
from woundfhir.measures.course import Course, Point, courses
from woundfhir.measures.rounding import rounded
from woundfhir.record import History

Json = Any
Resource = dict[str, Json]
_PLACES = Decimal("0.01")


def _values(found: Course) -> Iterator[tuple[str, Decimal, str, str, tuple[Point, ...]]]:
    """Yield (key of the table of codes, value, unit as shown, UCUM code, points it rests on)."""
    if not found.stretch:
        return
    first, last = found.stretch[0], found.stretch[-1]
    if last.length is not None and last.width is not None:
        yield "computed_area_rectangle", rounded(last.area, last.area_digits), "cm2", "cm2", (last,)
    if found.since_first is not None:
        yield "computed_percent_area_change", found.since_first, "%", "%", (first, last)
    if found.advance is not None:
        yield "computed_linear_healing", found.advance, "cm/wk", "cm/wk", (first, last)


@speaking(ENGLISH)
def computed(history: History, out: WriteContext) -> list[Resource]:
    """Return the computed values of a history as Observations, two places after the point.

    Parameters
    ----------
    history
        One client's record.
    out
        The writer's context over the same history.
    """
    made: list[Resource] = []
    visits = {visit["id"]: visit for visit in history.visits}
    for wound, found in courses(history).items():
        for key, value, unit, code, points in _values(found):
            visit = visits[points[-1].visit]
            made.append(_observation(VisitContext(out, visit, None, wound), wound, key, value, (unit, code), points))
    return made


def _observation(
    context: VisitContext, wound: str, key: str, value: Decimal, unit: tuple[str, str], points: tuple[Point, ...]
) -> Resource:
    out, terms = context.out, context.out.terms
    place = f"{context.place}/{key.replace('_', '-')}"
    made = out.head("Observation", place, terms.meta("computed"))
    made["identifier"] = out.identifier(place)
    made["status"] = context.status
    made["category"] = [terms.cc["category_exam"]]
    made["code"] = terms.cc[key]
    made["subject"] = out.patient
    made["focus"] = context.focus
    made["encounter"] = context.encounter
    made.update(context.dated)
    ucum = terms.catalogue.systems["ucum"]
    made["valueQuantity"] = {"value": value.quantize(_PLACES), "unit": unit[0], "system": ucum, "code": unit[1]}
    made["derivedFrom"] = [out.ref("Observation", f"{escape(p.visit)}/{escape(wound)}/size") for p in points]
    return made


def differences(history: History, came: Iterable[Mapping[str, Json]]) -> list[Mapping[str, Json]]:
    """Return the computed values that came and that the record does not give.

    Parameters
    ----------
    history
        The record that was read from the same input.
    came
        Computed Observations, as they came.
    """
    waiting = list(came)
    if not waiting:
        return []
    _, out = build(history)
    ours = {found["id"]: found["valueQuantity"] for found in computed(history, out)}
    return [one for one in waiting if ours.get(str(one.get("id"))) != one.get("valueQuantity")]
