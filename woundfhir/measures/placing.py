"""From sizes as they are written to points in the order of time; what cannot be used is remarked, never guessed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from woundfhir.chart.time import Clock, When
from woundfhir.measures import size
from woundfhir.measures.points import Measured, Point, Remark
from woundfhir.measures.rounding import converted_digits
from woundfhir.measures.texts import say
from woundfhir.record import dates
from woundfhir.record.quantity import parse
from woundfhir.record.units import MeasureError, to_unit

#: No wound is larger than a body: cm, cm2. Common sense, no source.
_MOST = {"cm": Decimal(300), "cm2": Decimal(30000)}
#: Takes the code and the message of a remark.
Note = Callable[..., None]
_WANTED = (("length", "cm"), ("width", "cm"), ("depth", "cm"), ("area", "cm2"))


class Placed(NamedTuple):
    """A measurement with its place in the list, its day and its time."""

    place: int
    visit: str
    measured: Measured
    at: str
    day: date
    when: When


def in_time(measurements: Iterable[Measured], remarks: list[Remark]) -> list[Placed]:
    """Return the measurements in order of time; those without a whole day are left out, with a remark.

    The order is that of ``woundfhir.chart.time``; measurements that stand at the same time keep the order in which
    they came.
    """
    found = list(measurements)
    times = [one.at if isinstance(one.at, str) else one.at.isoformat() for one in found]
    clock = Clock(None, times)
    placed = []
    for index, (one, at) in enumerate(zip(found, times, strict=True)):
        visit = one.visit or str(index)
        day = dates.day(at)
        if day is not None:
            placed.append(Placed(index, visit, one, at, day, one.when or clock.when(at)))
        elif any((one.length, one.width, one.area)):
            remarks.append(Remark("no-day", say("remark.no-day"), visit, index))
    ordered = sorted(placed, key=lambda one: (one.when.order, one.place))
    for first, sorted_one in zip(placed, ordered, strict=True):
        if first is not sorted_one:
            remarks.append(Remark("unsorted", say("remark.unsorted"), sorted_one.visit, sorted_one.place))
            break
    return _forwards(ordered)


def _forwards(ordered: list[Placed]) -> list[Placed]:
    """Days never run backwards: a later visit on an earlier day (in another offset) is placed on the day before it."""
    out: list[Placed] = []
    for one in ordered:
        out.append(one._replace(day=max(one.day, out[-1].day)) if out else one)
    return out


def point(one: Placed, spellings: Mapping[str, str], remarks: list[Remark]) -> Point | None:
    """Return the point of one measurement, or None with a remark where what is written gives no area."""

    def remark(code: str, **slots: str) -> None:
        remarks.append(Remark(code, say(f"remark.{code}", **slots), one.visit, one.place))

    sides: list[Decimal | None] = []
    units: set[str] = set()
    digits: list[int | None] = []
    for key, wanted in _WANTED:
        side, count = _side(key, getattr(one.measured, key), wanted, spellings, units, remark)
        sides.append(side)
        digits.append(count)
    length, width, depth, written = sides
    if len(units) > 1:
        remark("mixed-units")
    way = one.measured.method or say("measures.method_missing")
    if length is not None and width is not None:
        if (length == 0) != (width == 0):
            remark("half-zero")
            return None
        area, way = size.area_rectangle(length, width) if length else Decimal(0), say("measures.plane", way=way)
    elif written is not None:
        area, way = written, say("measures.as_written", way=way)
    else:
        if length is not None or width is not None:
            remark("half-size")
        return None
    return Point(
        visit=one.visit,
        at=one.at,
        day=one.day,
        length=length,
        width=width,
        depth=depth,
        area=area,
        way=way,
        when=one.when,
        episode=one.measured.episode,
        digits=tuple(digits),
    )


def _side(
    key: str, text: object, wanted: str, spellings: Mapping[str, str], units: set[str], remark: Note
) -> tuple[Decimal | None, int | None]:
    """Return a side in the unit wanted, and how many digits of it are known where it was converted."""
    if not isinstance(text, str) or not text:
        return None, None
    found = parse(text)
    if found is None:
        remark("words", side=say(f"remark.{key}"))
        return None, None
    if found.comparator:
        remark("not-exact", side=say(f"remark.{key}"))
        return None, None
    unit = spellings.get(found.unit, found.unit) if found.unit else None
    try:
        value = to_unit(found.value, unit, wanted)
    except MeasureError:
        remark("unit", side=say(f"remark.{key}"), wanted=wanted)
        return None, None
    if value < 0:
        remark("below-zero", side=say(f"remark.{key}"))
        return None, None
    if value > _MOST[wanted]:
        remark("too-large", side=say(f"remark.{key}"))
        return None, None
    if wanted == "cm" and unit:
        units.add(unit)
    return value, converted_digits(found.value, unit or wanted, wanted)
