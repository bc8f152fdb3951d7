"""The clock face: the wound to scale with its undermined arcs and tunnels at their hours, 12 towards the head."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.drawing.svg import Drawing
from woundfhir.measures.units import MeasureError, to_unit
from woundfhir.record.quantity import parse

Json = Any


def centimetres(answer: Json) -> float | None:
    """Return a length answer in cm, or None where it is none."""
    found = parse(answer)
    if found is None or found.comparator or found.unit is None:
        return None
    try:
        value = to_unit(found.value, catalogue().units.get(found.unit), "cm")
    except MeasureError:
        return None
    return float(value) if Decimal(0) < value < Decimal(200) else None


def hour(answer: Json) -> int | None:
    """Return a clock position of 1 to 12, or None."""
    return (
        int(answer)
        if isinstance(answer, str) and answer.isascii() and answer.isdigit() and 1 <= int(answer) <= 12
        else None
    )


def clock_face(
    length: Json,
    width: Json,
    undermining: Json = None,
    tunnels: Json = None,
    *,
    title: str = "Wound to scale",
    side: float = 340,
) -> bytes:
    """Draw a wound to scale.

    Parameters
    ----------
    length, width
        Answers of the record such as ``4.1 cm``; length runs from head to toe. A missing one is said in words.
    undermining, tunnels
        Answers of the record: lists of ``{from, to, depth}`` and ``{clock, depth, end_felt}``.
    title
        Heading.
    side
        Width of the drawing in CSS pixels; a legend stands below.

    Returns
    -------
    bytes
        SVG.
    """
    long, wide = centimetres(length), centimetres(width)
    arcs = _items(undermining)
    ways = _items(tunnels)
    lines = _words(length, width, arcs, ways)
    drawing = Drawing(side, side + 26 + 17 * len(lines), title, " ".join(lines))
    drawing.add("rect", x=0, y=0, width=side, height=side + 26 + 17 * len(lines), fill="#fff")
    drawing.text(side / 2, 18, title, size=14, anchor="middle", bold=True)
    middle = (side / 2, side / 2 + 18)
    deepest = max([centimetres(i.get("depth")) or 0.0 for i in (*arcs, *ways)], default=0.0)
    a, b = (wide or long or 1.0) / 2, (long or wide or 1.0) / 2
    scale = (side / 2 - 34) / (max(a, b) + deepest)
    _face(drawing, middle, side / 2 - 22)
    _hatch(drawing)
    for arc in arcs:
        _arc(drawing, middle, a * scale, b * scale, arc, scale)
    dash: dict[str, Any] = {} if long and wide else {"stroke_dasharray": "4 4"}
    drawing.add(
        "ellipse",
        cx=middle[0],
        cy=middle[1],
        rx=a * scale,
        ry=b * scale,
        fill="#fff",
        stroke="#000",
        stroke_width=2.5,
        **dash,
    )
    for way in ways:
        _tunnel(drawing, middle, a * scale, b * scale, way, scale)
    _bar(drawing, side, scale)
    for index, line in enumerate(lines):
        drawing.text(12, side + 32 + 17 * index, line, size=12)
    return drawing.bytes()


def _items(answer: Json) -> Sequence[Mapping[str, Json]]:
    return [item for item in answer if isinstance(item, dict)] if isinstance(answer, list) else []


def _words(
    length: Json, width: Json, arcs: Sequence[Mapping[str, Json]], ways: Sequence[Mapping[str, Json]]
) -> list[str]:
    lines = [f"Length {_said(length)}, width {_said(width)}. 12 is towards the head."]
    for arc in arcs:
        lines.append(
            f"Hatched: undermined {_said(arc.get('from'))} to {_said(arc.get('to'))} o'clock,"
            f" {_said(arc.get('depth'))}."
        )
    for way in ways:
        end = {"yes": "end felt", "no": "END NOT FELT"}.get(str(way.get("end_felt")), "end not told")
        lines.append(f"Dashed: tunnel at {_said(way.get('clock'))} o'clock, {_said(way.get('depth'))}, {end}.")
    return lines


def _said(answer: Json) -> str:
    return answer if isinstance(answer, str) else "not written"


def _on(middle: tuple[float, float], a: float, b: float, turn: float, out: float = 0.0) -> tuple[float, float]:
    """The point on the edge at a turn of the clock (radians from 12, clockwise), moved outwards."""
    x, y = math.sin(turn), -math.cos(turn)
    reach = a * b / math.hypot(b * x, a * y) + out
    return middle[0] + reach * x, middle[1] + reach * y


def _face(drawing: Drawing, middle: tuple[float, float], reach: float) -> None:
    for number in range(1, 13):
        turn = math.tau * number / 12
        x, y = middle[0] + reach * math.sin(turn), middle[1] - reach * math.cos(turn)
        main = number % 3 == 0
        drawing.text(x, y + 4, str(number), size=13 if main else 10, anchor="middle", bold=main)


def _hatch(drawing: Drawing) -> None:
    pattern = drawing.add("pattern", drawing.add("defs"), id_="hatch", width=6, height=6, patternUnits="userSpaceOnUse")
    drawing.add("path", pattern, d="M 0 6 L 6 0", stroke="#000", stroke_width=1, fill="none")


def _arc(
    drawing: Drawing, middle: tuple[float, float], a: float, b: float, arc: Mapping[str, Json], scale: float
) -> None:
    start, stop, depth = hour(arc.get("from")), hour(arc.get("to")), centimetres(arc.get("depth"))
    if start is None or stop is None or depth is None:
        return
    hours = (stop - start) % 12 or 12
    turns = [math.tau * (start + hours * step / 48) / 12 for step in range(49)]
    edge = [_on(middle, a, b, turn) for turn in turns]
    outer = [_on(middle, a, b, turn, depth * scale) for turn in reversed(turns)]
    drawing.path([*edge, *outer], width=1, fill="url(#hatch)", close=True)


def _tunnel(
    drawing: Drawing, middle: tuple[float, float], a: float, b: float, way: Mapping[str, Json], scale: float
) -> None:
    at, depth = hour(way.get("clock")), centimetres(way.get("depth"))
    if at is None or depth is None:
        return
    turn = math.tau * at / 12
    (x1, y1), (x2, y2) = _on(middle, a, b, turn), _on(middle, a, b, turn, depth * scale)
    drawing.line(x1, y1, x2, y2, width=3, dash="7 4")
    felt = way.get("end_felt") == "yes"
    drawing.add("circle", cx=x2, cy=y2, r=5, fill="#000" if felt else "#fff", stroke="#000", stroke_width=1.5)
    if not felt:
        drawing.text(x2, y2 + 4, "?", size=11, anchor="middle", bold=True)


def _bar(drawing: Drawing, side: float, scale: float) -> None:
    cm = next(n for n in (0.5, 1, 2, 5, 10, 20, 50, 100) if n * scale >= 24)
    y = side + 10
    drawing.line(12, y, 12 + cm * scale, y, width=2)
    drawing.line(12, y - 4, 12, y + 4, width=2)
    drawing.line(12 + cm * scale, y - 4, 12 + cm * scale, y + 4, width=2)
    drawing.text(20 + cm * scale, y + 4, f"{cm:g} cm", size=12)
