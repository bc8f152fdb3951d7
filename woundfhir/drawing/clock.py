"""The clock face: the wound to scale with its undermined arcs and tunnels at their hours, 12 towards the head."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.drawing.face import Face
from woundfhir.drawing.reading import arcs_in, as_written, centimetres, plain, spellings_of_units, tunnels_in
from woundfhir.drawing.svg import Drawing, wrapped
from woundfhir.drawing.texts import say

Json = Any

#: The sheet prints the drawing small: its words are large, so that they can be read there.
_SIZE, _ROW = 15.0, 19


def clock_words(length: Json, width: Json, undermining: Json = None, tunnels: Json = None) -> list[str]:
    """Return what the clock face shows, as sentences: for those who cannot see it, and for a narrative.

    Parameters
    ----------
    length, width, undermining, tunnels
        As for ``clock_face``.

    Examples
    --------
    >>> print(*clock_words("4.1 cm", None, [{"from": "2", "to": "6", "depth": "3 cm"}], "none"), sep="\\n")
    Length 4.1 cm, width not written. 12 is towards the head, the length is drawn from 12 to 6.
    Undermined from 2 to 6 o'clock, depth 3 cm.
    Tunnels: none.
    """
    size = say("clock.size", length=as_written(length), width=as_written(width))
    lines = [f"{size} {say('clock.axis')}"]
    lines += [f"{way.words}." for way in arcs_in(undermining, {})] + plain("undermining", undermining)
    return lines + [f"{way.words}." for way in tunnels_in(tunnels, {})] + plain("tunnels", tunnels)


def clock_face(
    length: Json,
    width: Json,
    undermining: Json = None,
    tunnels: Json = None,
    *,
    title: str = "",
    side: float = 340,
    span: float = 0.0,
    spellings: Mapping[str, str] | None = None,
) -> bytes:
    """Draw a wound to scale.

    Parameters
    ----------
    length, width
        Answers of the record such as ``4.1 cm``; length runs from head to toe. Where one is missing the other is
        drawn as a broken circle, where both are, a broken circle of no scale; the words below say so.
    undermining, tunnels
        Answers of the record: lists of ``{from, to, depth}`` and ``{clock, depth, end_felt}``. An arc runs clockwise
        from its first hour to its last. What has no hour or no depth stands in words and is not drawn.
    title
        Heading; "Wound to scale" where there is none.
    side
        Width of the drawing in CSS pixels, at least 200; a legend stands below and adds to the height.
    span
        Reach of the drawing from its middle in cm, so that several wounds are drawn to one scale: the largest of their
        ``clock_span``. When left out the wound fills the face.
    spellings
        Spelling -> UCUM code of units that are not written in UCUM; the catalogue's when left out.

    Returns
    -------
    bytes
        SVG.

    Examples
    --------
    >>> drawn = clock_face("6 cm", "3 cm", spellings={})
    >>> drawn[:4], b"Length 6 cm, width 3 cm." in drawn
    (b'<svg', True)
    """
    title, side = title or say("clock.title"), max(side, 200.0)
    face = _face(length, width, undermining, tunnels, side, span, spellings)
    lines = face.legend(length, width) + plain("undermining", undermining) + plain("tunnels", tunnels)
    rows = [row for line in lines for row in wrapped(line, _SIZE, side - 20, most=3)]
    drawing = Drawing(
        side, side + 64 + _ROW * len(rows), title, " ".join(clock_words(length, width, undermining, tunnels))
    )
    drawing.text((side / 2, 18), wrapped(title, 17, side, most=1)[0], size=17, anchor="middle", bold=True)
    face.draw(drawing)
    for index, row in enumerate(rows):
        drawing.text((10, side + 70 + _ROW * index), row, size=_SIZE)
    return drawing.bytes()


def clock_span(length: Json, width: Json, undermining: Json = None, tunnels: Json = None) -> float:
    """Return how far a wound and its hollows reach from the middle of a clock face, in cm; 0 where no size is written.

    Parameters
    ----------
    length, width, undermining, tunnels
        The answers as they stand in the record, as for ``clock_face``; each may be None.

    Examples
    --------
    >>> clock_span("6 cm", "3 cm", [{"from": "2", "to": "6", "depth": "2 cm"}]), clock_span(None, None)
    (5.0, 0.0)
    """
    face = _face(length, width, undermining, tunnels, 340, 0.0, None)
    return face.span if face.scaled else 0.0


def _face(
    length: Json,
    width: Json,
    undermining: Json,
    tunnels: Json,
    side: float,
    span: float,
    spellings: Mapping[str, str] | None,
) -> Face:
    known = spellings_of_units() if spellings is None else spellings
    arcs, ways = arcs_in(undermining, known), tunnels_in(tunnels, known)
    return Face(centimetres(length, known), centimetres(width, known), arcs, ways, side, span)
