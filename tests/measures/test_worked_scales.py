"""Worked values of scales, limb pressures, burns and signs of infection."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from tests.measures.worked import all_numbers, first_number, numbers, rows, table, to
from woundfhir import measures as m
from woundfhir.measures import burn, infection


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


def test_push_range() -> None:
    (row,) = rows("PUSH range")
    least, most = m.push_total(Decimal(0), 0, 0), m.push_total(Decimal(99), 3, 4)
    assert row["expected"].startswith(f"{least} (healed) to {most} ")


def test_bwat_size_bins() -> None:
    (row,) = rows("BWAT size score")
    inside = ("3.9", "4", "15.9", "16.1", "35.9", "36.1", "79.9", "80.1")
    assert [m.bwat_size_score(Decimal(area)) for area in inside] == [1, 2, 2, 3, 3, 4, 4, 5]
    assert row["inputs"].startswith("L*W <4 / 4-<16 / 16.1-<36 / 36.1-<80 / >80")


def test_bwat_exudate_words() -> None:
    (row,) = rows("BWAT exudate")
    expected = row["expected"].split(" (")[0].split(" / ")
    assert [m.bwat_exudate(share) for share in all_numbers(row["inputs"])] == expected
    for share in (25, 75):
        with pytest.raises(m.MeasureError):
            m.bwat_exudate(Decimal(share))


def test_limb_pressure_indices() -> None:
    for row in rows("ABPI"):
        n = numbers(row["inputs"])
        index = m.ankle_brachial_index(n["DP"], n["PT"], n["L"], n["R"])
        assert [to(index, 4), to(index, 2)] == [Decimal(found) for found in row["expected"].split(" -> ")], row


def test_the_toe_index() -> None:
    (row,) = rows("TBPI")
    toe, arm = all_numbers(row["inputs"])
    assert m.toe_brachial_index(toe, arm, None) == first_number(row["expected"])


def test_when_an_index_has_moved() -> None:
    (row,) = rows("ABI change significant")
    least = first_number(row["expected"].replace(">=", ""))
    assert m.index_moved(Decimal("0.90"), Decimal("0.90") - least)
    assert not m.index_moved(Decimal("0.90"), Decimal("0.901") - least)


def test_ischaemia_grades() -> None:
    """Mills 2014: every value printed in the table falls into its row; ankle 70 stands in two, the worse is taken."""
    for row in rows("WIfI ischemia grade"):
        index, ankle, toe = row["inputs"].split(" / ")
        grade = int(row["expected"])
        for value in all_numbers(index.replace("ABI", "")):
            assert m.wifi_ischaemia_grade(index=value) == {"index": grade}, row
        inside = {">100": "101", "70-100": "71", "50-70": "70", "<50": "49"}[ankle.replace("ankle ", "")]
        assert m.wifi_ischaemia_grade(ankle=Decimal(inside)) == {"ankle": grade}, row
        for value in all_numbers(toe.replace("toe", "").replace("-", " ").replace("<30", "29")):
            assert m.wifi_ischaemia_grade(toe=value) == {"toe": grade}, row


def test_the_braden_total_and_its_limits() -> None:
    """Braden and Bergstrom 1988 (sums and bands only)."""
    (row,), (limits,) = rows("Braden total"), rows("Braden limits")
    total = m.braden_total([int(score) for score in row["inputs"].split("+")])
    assert row["expected"].startswith(f"{total} -> {m.braden_band(total)} ")
    assert limits["expected"].startswith(f"{m.braden_total([1] * 6)} / {m.braden_total([4] * 5 + [3])} ")


def test_every_row_of_the_age_table_sums_to_forty_and_the_body_to_a_hundred() -> None:
    """Lund and Browder 1944: 2A + 4B + 4C = 40 at every age; the fixed parts are 60."""
    for row, (age, (head, thigh, leg)) in zip(rows("Lund-Browder"), burn.AGE_TABLE.items(), strict=True):
        found = re.search(r"A head=([\d.]+)% B thigh=([\d.]+)% C leg=([\d.]+)%", row["inputs"])
        assert found and (head, thigh, leg) == tuple(map(Decimal, found.groups())), row
        assert 2 * head + 4 * thigh + 4 * leg == 40
        assert sum(m.age_table(age).values()) == 100
        assert m.age_table_surface(age, dict.fromkeys(m.age_table(age), Decimal(1))) == 100


def test_the_rule_of_nines_covers_the_body() -> None:
    """Wallace 1951: the parts of an adult sum to 100."""
    (row,) = rows("rule of nines")
    whole = {part: Decimal(2 if part in ("arm", "leg") else 1) for part in burn.NINES}
    assert m.rule_of_nines(whole) == first_number(row["expected"])


def test_irrigation_of_a_laceration() -> None:
    (row,) = rows("irrigation volume, traumatic laceration")
    least, most = m.laceration_volume(first_number(row["inputs"]))
    assert row["expected"] == f"{least}-{most} mL"


def test_counts_of_infection_signs() -> None:
    """Woo and Sibbald 2009: any three of five, any three of seven."""
    for start, tags in (("NERDS", infection.LOCAL), ("STONEES", infection.DEEP)):
        (row,) = rows(start)
        least, of = all_numbers(row["inputs"])
        assert (least, of) == (infection.LEAST, len(tags))
        for count in range(len(tags) + 1):
            found = m.count_signs(sorted(tags)[:count])
            assert (found.local_reached if start == "NERDS" else found.deep_reached) == (count >= 3)


def test_a_difference_of_temperature_has_no_offset() -> None:
    (row,) = rows("temperature difference conversion")
    value = first_number(row["inputs"])
    assert to(m.temperature_difference(value, "[degF]", "Cel"), 4) == first_number(row["expected"])


#: Rows that report a study, a rule of staging or a practice, and hold nothing that is computed here.
NOT_COMPUTED = (
    "rect vs manual planimetry", "Linear healing rate", "delayed-exponential", "DFU", "VLU",
    "irrigation volume, pressure", "irrigation pressure", "PI staging", "PI present-on-admission",
    "PI reassessment", "PI reverse",
)  # fmt: skip
COMPUTED = (
    "area rectangle", "area ellipse", "rect/ellipse", "rect vs planimetry", "volume Kundin", "volume bracket",
    "percent area reduction", "cohort summary", "percent change from baseline", "percent change rounding ties",
    "cohort mean size", "PUSH 3.0 total", "PUSH 3.0 area", "PUSH bin gap", "PUSH range", "BWAT size", "BWAT exudate",
    "Gilman, ellipse", "Gilman linear advance, circles", "Gilman linear advance, squares", "log (exponential)",
    "linear-in-area", "shape effect", "constant-radius-advance", "ABPI", "TBPI", "ABI change", "WIfI", "Braden total",
    "Braden limits", "Lund-Browder", "rule of nines", "irrigation volume, traumatic", "NERDS", "STONEES", "temperature",
)  # fmt: skip


def test_no_row_of_the_table_is_left_out() -> None:
    left = [row["quantity"] for row in table() if not row["quantity"].startswith(COMPUTED + NOT_COMPUTED)]
    assert left == []


def test_every_computed_kind_of_row_is_asked_for_in_a_test() -> None:
    """The list above cannot grow without a test that reads the rows."""
    text = "".join(path.read_text("utf-8") for path in sorted(Path(__file__).parent.glob("test_worked_*.py")))
    asked = tuple(re.findall(r'rows\("([^"]+)"\)', text)) + tuple(re.findall(r'\("(NERDS|STONEES)"', text))
    assert [start for start in COMPUTED if not any(a.startswith(start) or start.startswith(a) for a in asked)] == []
