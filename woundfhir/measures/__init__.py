"""Numbers that the trade computes by hand: pure functions on exact decimals, no input, no output.

Every function says its unit, its range, its errors and the source of its formula. A function that has no
answer raises ``MeasureError``; it never returns a number that only looks like one. ``trend`` reads sizes as they
are written and never raises: what it cannot use it leaves out and remarks. ``woundfhir.measures.course`` takes
the sizes out of a record.
"""

from woundfhir.measures.burn import age_table, age_table_surface, palms_surface, rule_of_nines
from woundfhir.measures.change import (
    gilman_advance,
    half_life,
    log_rate,
    percent_area_change,
    percent_area_reduction,
    time_to_area,
)
from woundfhir.measures.infection import SignCount, count_signs
from woundfhir.measures.irrigation import laceration_volume
from woundfhir.measures.limb import ankle_brachial_index, index_moved, toe_brachial_index, wifi_ischaemia_grade
from woundfhir.measures.points import Measured, Point, Remark
from woundfhir.measures.projection import Projection, project_linear
from woundfhir.measures.scales import (
    braden_band,
    braden_total,
    bwat_exudate,
    bwat_size_score,
    push_area_score,
    push_total,
)
from woundfhir.measures.size import area_ellipse, area_rectangle, perimeter_ellipse, volume_kundin
from woundfhir.measures.timing import Days, days_between, days_open, days_since_last
from woundfhir.measures.trend import Break, Course, Segment, Threshold, trend
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
    "age_table",
    "age_table_surface",
    "amount",
    "ankle_brachial_index",
    "area_ellipse",
    "area_rectangle",
    "braden_band",
    "braden_total",
    "bwat_exudate",
    "bwat_size_score",
    "count_signs",
    "days_between",
    "days_open",
    "days_since_last",
    "gilman_advance",
    "half_life",
    "index_moved",
    "laceration_volume",
    "log_rate",
    "palms_surface",
    "percent_area_change",
    "percent_area_reduction",
    "perimeter_ellipse",
    "project_linear",
    "push_area_score",
    "push_total",
    "rule_of_nines",
    "temperature_difference",
    "time_to_area",
    "to_unit",
    "toe_brachial_index",
    "trend",
    "volume_kundin",
    "wifi_ischaemia_grade",
]
