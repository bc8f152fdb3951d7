"""Numbers that the trade computes by hand: pure functions on exact decimals, no records, no input, no output.

Every function says its unit, its range, its errors and the source of its formula. A function that has no
answer raises ``MeasureError``; it never returns a number that only looks like one.
"""

from woundfhir.measures.burn import age_table, palms_surface, rule_of_nines
from woundfhir.measures.change import (
    gilman_advance,
    half_life,
    log_rate,
    percent_area_change,
    percent_area_reduction,
    project_linear,
)
from woundfhir.measures.limb import ankle_brachial_index, toe_brachial_index
from woundfhir.measures.scales import braden_total, push_area_score, push_total
from woundfhir.measures.size import area_ellipse, area_rectangle, perimeter_ellipse, volume_kundin
from woundfhir.measures.units import MeasureError, to_unit

__all__ = [
    "MeasureError",
    "age_table",
    "ankle_brachial_index",
    "area_ellipse",
    "area_rectangle",
    "braden_total",
    "gilman_advance",
    "half_life",
    "log_rate",
    "palms_surface",
    "percent_area_change",
    "percent_area_reduction",
    "perimeter_ellipse",
    "project_linear",
    "push_area_score",
    "push_total",
    "rule_of_nines",
    "to_unit",
    "toe_brachial_index",
    "volume_kundin",
]
