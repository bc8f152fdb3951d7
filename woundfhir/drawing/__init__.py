"""Drawings as plain SVG: black on white, with words for those who cannot see them, the same bytes each time.

For places that take no SVG there are a line and a bar of block characters (``spark``, ``bar``), tables and sentences
(``trend_rows``, ``clock_words``); see ``woundfhir.drawing.plain`` for what a FHIR narrative allows.
"""

from woundfhir.drawing.chart import trend_chart
from woundfhir.drawing.clock import clock_face, clock_span, clock_words
from woundfhir.drawing.plain import trend_rows
from woundfhir.drawing.spark import bar, spark

__all__ = ["bar", "clock_face", "clock_span", "clock_words", "spark", "trend_chart", "trend_rows"]
