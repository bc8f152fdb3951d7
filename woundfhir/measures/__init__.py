"""Numbers that the trade computes by hand: pure functions on exact decimals, no input, no output.

Every function says its unit, its range, its errors and the source of its formula. A function that has no
answer raises ``MeasureError``; it never returns a number that only looks like one. ``trend`` reads sizes as they
are written and never raises: what it cannot use it leaves out and remarks. ``woundfhir.measures.course`` takes
the sizes out of a record.
"""

from woundfhir.measures.change import gilman_advance, half_life, log_rate, percent_area_change, percent_area_reduction
from woundfhir.measures.courses import Break, Course, Segment, Threshold
from woundfhir.measures.infection import SignCount, count_signs
from woundfhir.measures.limb import ankle_brachial_index, toe_brachial_index
from woundfhir.measures.points import Measured, Point, Remark
from woundfhir.measures.projection import Projection, project_linear
from woundfhir.measures.scales import push_area_score, push_total
from woundfhir.measures.size import area_ellipse, area_rectangle, perimeter_ellipse, volume_kundin
from woundfhir.measures.timing import Days, days_between, days_open
from woundfhir.measures.trend import trend
from woundfhir.record.units import MeasureError, amount, temperature_difference, to_unit

__all__ = [
    "Break",
    "Course",
    "Days",
    "MeasureError",
    "Measured",
    "Point",
    "Projection",
    "Remark",
    "Segment",
    "SignCount",
    "Threshold",
    "amount",
    "ankle_brachial_index",
    "area_ellipse",
    "area_rectangle",
    "count_signs",
    "days_between",
    "days_open",
    "gilman_advance",
    "half_life",
    "log_rate",
    "percent_area_change",
    "percent_area_reduction",
    "perimeter_ellipse",
    "project_linear",
    "push_area_score",
    "push_total",
    "temperature_difference",
    "to_unit",
    "toe_brachial_index",
    "trend",
    "volume_kundin",
]
