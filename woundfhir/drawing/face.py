"""The dial, the wound, its hollows and their labels, to one scale."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from woundfhir.drawing.reading import Json, Way, as_written
from woundfhir.drawing.svg import XY, Drawing, text_width
from woundfhir.drawing.texts import say
from woundfhir.language import decimal_mark

_TOP = 30.0
_SIZE = 11.0
_STEPS = 48
#: How deep a hollow is drawn, in cm of a wound of 1 cm, where no size gives a scale.
_UNSCALED = 0.4
Box = tuple[float, float, float, float]


class Face:
    """One wound on its clock.

    Parameters
    ----------
    length, width
        In cm, or None.
    arcs, tunnels
        From ``woundfhir.drawing.reading``.
    side
        Of the square in which it is drawn, in pixels.
    span
        How far the drawing must reach from its middle, in cm: that of the largest wound, where several are drawn to
        one scale. Its own when left out.
    """

    def __init__(
        self,
        length: float | None,
        width: float | None,
        arcs: Sequence[Way],
        tunnels: Sequence[Way],
        side: float,
        span: float = 0.0,
    ) -> None:
        self.known = length is not None and width is not None
        self.scaled = length is not None or width is not None
        self.arcs, self.tunnels, self.side = arcs, tunnels, side
        self.middle = (side / 2, side / 2 + _TOP)
        half_height, half_width = (length or width or 1.0) / 2, (width or length or 1.0) / 2
        deepest = max([self._deep(way) for way in (*arcs, *tunnels) if way.drawn], default=0.0)
        self.span = max(half_height, half_width) + deepest
        self.scale = (side / 2 - 54) / (max(self.span, span) if self.scaled else self.span)
        self.rx, self.ry = half_width * self.scale, half_height * self.scale
        self.taken: list[Box] = []

    def legend(self, length: Json, width: Json) -> list[str]:
        """Return the lines below the drawing."""
        lines = [say("clock.size", length=as_written(length), width=as_written(width))]
        if not self.scaled:
            lines.append(say("clock.no_scale"))
        elif not self.known:
            lines.append(say("clock.broken"))
        for way, sign in [(way, "hatched") for way in self.arcs] + [(way, "dashed") for way in self.tunnels]:
            words = f"{way.words[0].lower()}{way.words[1:]}"
            lines.append(say("clock.legend", sign=say(f"clock.{sign if way.drawn else 'not_drawn'}"), words=words))
        if any(way.drawn and way.end_felt != "yes" for way in self.tunnels):
            lines.append(say("clock.end_unknown"))
        return lines

    def draw(self, drawing: Drawing) -> None:
        """Draw everything but the words below."""
        self._dial(drawing)
        arcs, tunnels = [way for way in self.arcs if way.drawn], [way for way in self.tunnels if way.drawn]
        if arcs:
            _hatch(drawing)
        for way in arcs:
            self._arc(drawing, way)
        dash: dict[str, Any] = {} if self.known else {"stroke_dasharray": "5 4"}
        x, y = self.middle
        drawing.add("ellipse", cx=x, cy=y, rx=self.rx, ry=self.ry, fill="#fff", stroke="#000", stroke_width=2.5, **dash)
        for way in tunnels:
            self._tunnel(drawing, way)
        for way in tunnels:
            self._write(drawing, way, self._beside(way))
        for way in arcs:
            self._write(drawing, way, self._within(way))
        if self.scaled:
            self._bar(drawing)

    def _dial(self, drawing: Drawing) -> None:
        reach = self.side / 2 - 22
        for number in range(1, 13):
            turn = math.tau * number / 12
            main = number % 3 == 0
            drawing.line(
                self._at(turn, reach - 11), self._at(turn, reach - (18 if main else 15)), width=1.5 if main else 1
            )
            x, y = self._at(turn, reach)
            drawing.text((x, y + 6), str(number), size=18 if main else 15, anchor="middle", bold=main)
            self.taken.append((x - 11, y - 11, x + 11, y + 11))
        drawing.text((self.middle[0] + 15, self.middle[1] - reach + 6), say("clock.head"), size=15)

    def _at(self, turn: float, reach: float) -> XY:
        """A place at a turn of the clock (radians from 12, clockwise), so many pixels from the middle."""
        return self.middle[0] + reach * math.sin(turn), self.middle[1] - reach * math.cos(turn)

    def _along(self, turn: float, out: float) -> XY:
        """A place on the ray at a turn of the clock, so many pixels beyond the edge."""
        reach = self.rx * self.ry / math.hypot(self.ry * math.sin(turn), self.rx * math.cos(turn))
        return self._at(turn, reach + out)

    def _under(self, angle: float, out: float) -> XY:
        """A place square to the edge, so many pixels under the skin; angle is that of the ellipse."""
        x, y = self.rx * math.sin(angle), self.ry * math.cos(angle)
        across, up = self.ry * math.sin(angle), self.rx * math.cos(angle)
        size = math.hypot(across, up)
        return self.middle[0] + x + out * across / size, self.middle[1] - y - out * up / size

    def _deep(self, way: Way) -> float:
        return (way.depth or 0.0) if self.scaled else _UNSCALED

    def _angle(self, turn: float) -> float:
        """The angle of the ellipse at which the ray of a turn of the clock meets the edge."""
        return math.atan2(self.ry * math.sin(turn), self.rx * math.cos(turn))

    def _angles(self, way: Way) -> list[float]:
        start = self._angle(math.tau * (way.start or 0) / 12)
        whole = way.start == way.stop
        end = self._angle(math.tau * (way.stop or 0) / 12)
        span = math.tau if whole else (end - start) % math.tau
        return [start + span * step / _STEPS for step in range(_STEPS + 1)]

    def _arc(self, drawing: Drawing, way: Way) -> None:
        angles = self._angles(way)
        deep = self._deep(way) * self.scale
        outer = [self._under(angle, deep) for angle in reversed(angles)]
        drawing.path([*(self._under(angle, 0) for angle in angles), *outer], width=1.2, fill="url(#hatch)", close=True)

    def _tunnel(self, drawing: Drawing, way: Way) -> None:
        turn = math.tau * (way.start or 0) / 12
        deep = self._deep(way) * self.scale
        start, end = self._along(turn, 0), self._along(turn, deep)
        # A white line below the dashes keeps a tunnel readable where it runs through a hatched arc.
        drawing.add("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], stroke="#fff", stroke_width=8)
        drawing.line(start, end, width=3, dash="7 4")
        drawing.mark("circle" if way.end_felt == "yes" else "ring", end, 5)
        if way.end_felt != "yes":
            drawing.text((end[0], end[1] + 3.5), "?", size=10, anchor="middle", bold=True)
        for step in range(11):
            x, y = self._along(turn, deep * step / 10)
            self.taken.append((x - 5, y - 5, x + 5, y + 5))

    def _beside(self, way: Way) -> Iterable[XY]:
        """Places for the words of a tunnel: to either side of it, from its middle outwards, then beyond its end."""
        turn = math.tau * (way.start or 0) / 12
        deep = self._deep(way) * self.scale
        for share in (0.6, 0.9, 0.3):
            x, y = self._along(turn, deep * share)
            for side in (1, -1):
                away = 12 + 12 * abs(math.cos(turn))
                yield x + side * away * math.cos(turn), y + side * away * math.sin(turn)
        yield self._along(turn, deep + 16)

    def _within(self, way: Way) -> Iterable[XY]:
        """Places for the words of an arc: in it from its middle to its ends, then outside it."""
        angles = self._angles(way)
        deep = self._deep(way) * self.scale
        spread = (24, 18, 30, 12, 36, 7, 41, 4, 44)
        if deep >= 24:
            for share in (0.55, 0.75):
                yield from (self._under(angles[step], deep * share) for step in spread)
        yield from (self._under(angles[step], deep + 14) for step in spread)

    def _write(self, drawing: Drawing, way: Way, places: Iterable[XY]) -> None:
        """Write a depth at the first of some places where it covers nothing, else at the first of them."""
        words = way.label
        half = text_width(words, _SIZE) / 2 + 2
        boxes = [(x - half, y - 8, x + half, y + 8) for x, y in places]
        box = next((box for box in boxes if self._free(box)), boxes[0])
        self.taken.append(box)
        drawing.label((box[0] + half, box[1] + 12), words, size=_SIZE, anchor="middle", bold=True)

    def _free(self, box: Box) -> bool:
        left, top, right, bottom = box
        if left < 2 or right > self.side - 2:
            return False
        if any(left < r and right > lf and top < b and bottom > t for lf, t, r, b in self.taken):
            return False
        x, y = self.middle
        edge = [
            (left + (right - left) * i / 6, height) for i in range(7) for height in (top, (top + bottom) / 2, bottom)
        ]
        return all(math.hypot((px - x) / (self.rx + 2), (py - y) / (self.ry + 2)) > 1 for px, py in edge)

    def _bar(self, drawing: Drawing) -> None:
        cm = next(n for n in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200) if n * self.scale >= 24)
        y, end = self.side + _TOP + 12, 10 + cm * self.scale
        drawing.line((10, y), (end, y), width=2)
        for x in (10, end):
            drawing.line((x, y - 4), (x, y + 4), width=2)
        drawing.text((end + 8, y + 5), decimal_mark(f"{cm:g} cm"), size=15)


def _hatch(drawing: Drawing) -> None:
    pattern = drawing.add("pattern", drawing.add("defs"), id_="hatch", width=6, height=6, patternUnits="userSpaceOnUse")
    # The corners are drawn too, so that the lines meet across the tiles.
    strokes = "M -1 1 L 1 -1 M 0 6 L 6 0 M 5 7 L 7 5"
    drawing.add("path", pattern, d=strokes, stroke="#000", stroke_width=0.9, fill="none")
