"""The table of sizes: what was measured, in one unit, with the change that ``woundfhir trend`` computes."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_EVEN, Decimal

from woundfhir.catalogue import catalogue
from woundfhir.chart import WoundView
from woundfhir.flat.cells import filled, fitting
from woundfhir.flat.opened import Opened, Row
from woundfhir.flat.schema import tables
from woundfhir.measures.course import Point, course
from woundfhir.measures.points import compared

_SIX = Decimal("0.000001")


def sizes(one: Opened) -> Iterator[Row]:
    """Yield a row for each wound at each visit at which a size, or why there is none, is written."""
    table, known = tables()["sizes"], catalogue().groups["assessment"]
    measures = [key for column, key in table.below("assessment") if column.gives == "number"]
    computed: dict[tuple[str, str], Row] = {}
    for wound in one.wounds:
        computed.update({(wound.id, visit): row for visit, row in _computed(one, wound)})
    for entry, head in one.entries():
        answers = entry.data.get("assessment", {})
        if not answers.keys().isdisjoint(measures):
            cells = filled(table.below("assessment"), known, answers)
            yield {**head, **cells, **computed.get((entry.wound.id, entry.visit.id), {})}


def _computed(one: Opened, wound: WoundView) -> Iterator[tuple[str, Row]]:
    """Yield the visit and the computed columns of each entry of a wound."""
    episodes = {entry.visit.id: place for place, entries in enumerate(wound.episodes, 1) for entry in entries}
    rows: dict[str, Row] = {visit: {"episode": place} for visit, place in episodes.items()}
    earlier: dict[tuple[str, int], list[Point]] = {}
    for point in course(one.record, wound.id).points:
        before = earlier.setdefault((point.way, point.episode), [])
        both = point.length is not None and point.width is not None
        rows[point.visit].update(
            area=fitting(point.area),
            area_from="length and width" if both else "as charted",
            change_from_first=_change(before[0], point) if before else None,
            change_from_last=_change(before[-1], point) if before else None,
        )
        before.append(point)
    yield from rows.items()


def _change(earlier: Point, now: Point) -> Decimal | None:
    found = compared(earlier, now)[0]
    return None if found is None else fitting(found.quantize(_SIX, ROUND_HALF_EVEN))
