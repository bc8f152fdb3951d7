"""Worked values of scales, limb pressures, burns and signs of infection."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from tests.measures.worked import all_numbers, first_number, numbers, rows, table, to
from woundfhir import measures as m
from woundfhir.checklist.policy import load
from woundfhir.measures import infection
from woundfhir.measures.scales import RISK_TOTALS


def test_the_published_push_case() -> None:
    """J Korean Med Ophthalmol Otolaryngol Dermatol 31(4) p126 table 3: totals 12, 12, 10, 10, 8."""
    totals = []
    for row in rows("PUSH 3.0 total"):
        n = numbers(row["inputs"])
        scores = re.search(r"area ([\d.]+)\); exudate (\d); tissue (\d)", row["inputs"])
        expected = re.search(r"total (\d+) \(area sub-score (\d+)\)", row["expected"])
        assert scores and expected
        area = m.area_rectangle(n["L"], n["W"])
        assert area == Decimal(scores[1])
        assert m.push_area_score(area) == int(expected[2])
        totals.append(m.push_total(area, int(scores[2]), int(scores[3])))
        assert totals[-1] == int(expected[1])
    assert totals == [12, 12, 10, 10, 8]


def test_every_push_area_bin() -> None:
    for row in rows("PUSH 3.0 area sub-score"):
        assert m.push_area_score(first_number(row["inputs"])) == int(row["expected"]), row


def test_the_gaps_between_the_push_bins() -> None:
    (row,) = rows("PUSH bin gap handling")
    areas = all_numbers(row["inputs"])
    assert [m.push_area_score(area) for area in areas] == [7, 8, 2, 3]
    assert re.findall(r"->(\d+)(?=[; ])", row["expected"]) == ["7", "8", "2", "3"]
    assert m.push_area_score(Decimal("0.29")) == 1  # "<0.3" is tested unrounded: 0.29 would round to 0.3


@pytest.mark.parametrize(("exudate", "tissue"), [(-1, 0), (4, 0), (0, -1), (0, 5)])
def test_no_push_total_of_a_sub_score_that_the_tool_does_not_have(exudate: int, tissue: int) -> None:
    """PUSH 3.0: exudate 0 to 3, tissue 0 to 4."""
    with pytest.raises(m.MeasureError):
        m.push_total(Decimal(1), exudate, tissue)


def test_an_area_of_any_length_has_a_push_score() -> None:
    assert m.push_area_score(Decimal("1e40")) == 10


def test_push_range() -> None:
    (row,) = rows("PUSH range")
    least, most = m.push_total(Decimal(0), 0, 0), m.push_total(Decimal(99), 3, 4)
    assert row["expected"].startswith(f"{least} (healed) to {most} ")


def test_limb_pressure_indices() -> None:
    for row in rows("ABPI"):
        n = numbers(row["inputs"])
        index = m.ankle_brachial_index(n["DP"], n["PT"], n["L"], n["R"])
        assert [to(index, 4), to(index, 2)] == [Decimal(found) for found in row["expected"].split(" -> ")], row


def test_the_toe_index() -> None:
    (row,) = rows("TBPI")
    toe, arm = all_numbers(row["inputs"])
    assert m.toe_brachial_index(toe, arm, None) == first_number(row["expected"])


def test_the_range_of_the_braden_total() -> None:
    """Braden and Bergstrom 1988 (sums only)."""
    (limits,) = rows("Braden limits")
    least, most = RISK_TOTALS["Braden scale"]
    assert limits["expected"].startswith(f"{least} / {most} ")


def test_counts_of_infection_signs() -> None:
    """Woo and Sibbald 2009: any three of five, any three of seven."""
    for start, tags in (("NERDS", infection.LOCAL), ("STONEES", infection.DEEP)):
        (row,) = rows(start)
        least, of = all_numbers(row["inputs"])
        assert (load("ontario").number("infection.signs"), len(tags)) == (least, of)
        for count in range(len(tags) + 1):
            found = m.count_signs(sorted(tags)[:count])
            assert (found.local if start == "NERDS" else found.deep) == count


def test_a_difference_of_temperature_has_no_offset() -> None:
    (row,) = rows("temperature difference conversion")
    value = first_number(row["inputs"])
    assert to(m.temperature_difference(value, "[degF]", "Cel"), 4) == first_number(row["expected"])


#: Rows that report a study, a rule of staging or a practice, or a measure that nothing here asks for.
NOT_COMPUTED = (
    "rect vs manual planimetry", "Linear healing rate", "delayed-exponential", "DFU", "VLU",
    "irrigation volume, pressure", "irrigation pressure", "PI staging", "PI present-on-admission",
    "PI reassessment", "PI reverse", "BWAT size", "BWAT exudate", "ABI change", "WIfI", "Braden total", "Lund-Browder",
    "rule of nines", "irrigation volume, traumatic",
)  # fmt: skip
COMPUTED = (
    "area rectangle", "area ellipse", "rect/ellipse", "rect vs planimetry", "volume Kundin", "volume bracket",
    "percent area reduction", "cohort summary", "percent change from baseline", "percent change rounding ties",
    "cohort mean size", "PUSH 3.0 total", "PUSH 3.0 area", "PUSH bin gap", "PUSH range",
    "Gilman, ellipse", "Gilman linear advance, circles", "Gilman linear advance, squares", "log (exponential)",
    "linear-in-area", "shape effect", "constant-radius-advance", "ABPI", "TBPI", "Braden limits", "NERDS", "STONEES",
    "temperature",
)  # fmt: skip


def test_no_row_of_the_table_is_left_out() -> None:
    left = [row["quantity"] for row in table() if not row["quantity"].startswith(COMPUTED + NOT_COMPUTED)]
    assert left == []


def test_every_computed_kind_of_row_is_asked_for_in_a_test() -> None:
    """The list above cannot grow without a test that reads the rows."""
    text = "".join(path.read_text("utf-8") for path in sorted(Path(__file__).parent.glob("test_worked_*.py")))
    asked = tuple(re.findall(r'rows\("([^"]+)"\)', text)) + tuple(re.findall(r'\("(NERDS|STONEES)"', text))
    assert [start for start in COMPUTED if not any(a.startswith(start) or start.startswith(a) for a in asked)] == []
