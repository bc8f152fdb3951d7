"""Drawings as plain SVG: black and white, with words for those who cannot see them, the same bytes each time."""

from woundfhir.drawing.chart import trend_chart
from woundfhir.drawing.clock import clock_face
from woundfhir.drawing.spark import spark

__all__ = ["clock_face", "spark", "trend_chart"]
