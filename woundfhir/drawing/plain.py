"""Drawings where no SVG may stand: what an R4 narrative allows, and the forms that it takes.

R4 (4.0.1), Narrative, rule txt-1: HTML 4 text, tables, lists, links, style attributes *and images*; no ``svg``
element, no script, no object. So a drawing can stand in a narrative in two ways:

- as a table and sentences (``trend_rows``, ``clock_words``): always. Bars are block characters, so that the course
  can be seen without a picture. This is the form to take by default: it can be read aloud, copied and searched.
- as ``<img src="data:..."/>`` with its words in ``alt``: txt-1 allows it, and says nothing of the kind of picture
  (HL7's validation engine takes PNG and SVG there, and refuses an ``svg`` element). Receivers differ, and many take
  out SVG, since SVG can hold scripts; the receiver of this toolkit does so too. ``image_uri`` therefore takes PNG,
  JPEG and GIF and refuses SVG. To turn SVG into PNG is left to the caller: it needs a renderer, and none is a
  dependency here.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from decimal import Decimal

from woundfhir.drawing.spark import bar
from woundfhir.errors import InputError
from woundfhir.measures.points import Point, compared
from woundfhir.measures.rounding import length_text, percent_text
from woundfhir.measures.trend import Course
from woundfhir.measures.words import size_text

HEAD = ("Date", "Length (cm)", "Width (cm)", "Depth (cm)", "Area", "Since the one before", "Between", "")
_KINDS = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpeg", b"GIF8": "gif"}


def trend_rows(
    course: Course, *, most: int = 60, ascii_only: bool = False
) -> tuple[Sequence[str], list[Sequence[str]]]:
    """Return the course of a wound as the head and the rows of a table, with bars of block characters.

    Parameters
    ----------
    course
        From ``woundfhir.measures.trend`` or ``woundfhir.measures.course``.
    most
        The most measurements, at least 2: of a longer series the first and the newest stand, with a row between
        that says how many are left out.
    ascii_only
        Bars of ``#``.

    Returns
    -------
    tuple
        Head and rows, all text. A change stands only between sizes that were measured in one way.

    Examples
    --------
    >>> from woundfhir.measures import Measured, trend
    >>> made = trend([Measured("2026-03-02", "4.0 cm", "3.0 cm"), Measured("2026-03-09", "3.0 cm", "3.0 cm")])
    >>> trend_rows(made, ascii_only=True)[1][1]
    ('2026-03-09', '3.0', '3.0', '', '9.00 cm²', '25 % smaller', '', '###############')
    """
    reasons: dict[str, list[str]] = {}
    for one in course.breaks:
        reasons.setdefault(one.before, []).append(one.reason)
    top = max((point.area for point in course.points), default=Decimal(0))
    before: dict[str, Point] = {}
    rows: list[Sequence[str]] = []
    for point in course.points:
        sides = [length_text(value, digits) for value, digits in point.sides]
        between = "; ".join(reasons.get(point.visit, ()))
        drawn = bar(point.area, top, ascii_only=ascii_only)
        rows.append(
            (point.date.isoformat(), *sides, size_text(point), _since(before.get(point.way), point), between, drawn)
        )
        before[point.way] = point
    left_out = len(rows) - max(most, 2)
    if left_out > 0:
        rows[1 : left_out + 1] = [("\u2026", "", "", "", "", "", f"{left_out} measurements left out here", "")]
    return HEAD, rows


def _since(last: Point | None, now: Point) -> str:
    if last is None:
        return ""
    percent, why = compared(last, now)
    return why if percent is None else percent_text(percent)


def image_uri(picture: bytes) -> str:
    """Return a picture as a ``data:`` address for the ``src`` of an ``img`` in a narrative.

    Parameters
    ----------
    picture
        PNG, JPEG or GIF, known by its first bytes.

    Raises
    ------
    InputError
        For anything else, SVG among it: see the head of this module.

    Examples
    --------
    >>> image_uri(b"GIF89a")
    'data:image/gif;base64,R0lGODlh'
    """
    kind = next((kind for start, kind in _KINDS.items() if picture.startswith(start)), None)
    if kind is None:
        raise InputError("picture", "PNG, JPEG or GIF", "Turn the drawing into PNG, or use the table")
    return f"data:image/{kind};base64,{b64encode(picture).decode('ascii')}"
