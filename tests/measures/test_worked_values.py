"""Every worked value of the reference table, each with its source in the table's own column."""

from __future__ import annotations

import csv
import re
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from pathlib import Path
from statistics import mean, median

import pytest

from tests.paths import REFERENCE, reference
from woundfhir import measures as m
from woundfhir.measures import burn, infection, size

Row = dict[str, str]
TOLERANCE = Decimal("0.006")


@lru_cache
def table() -> tuple[Row, ...]:
    path = REFERENCE / "worked_values.tsv"
    if not path.exists():
        return ()
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file, delimiter="\t"))


def rows(start: str) -> list[Row]:
    """The rows whose quantity starts so; skips where the table is absent, fails where it has none."""
    reference("worked_values.tsv")
    found = [row for row in table() if row["quantity"].startswith(start)]
    assert found, start
    return found


def numbers(text: str) -> dict[str, Decimal]:
    return {key: Decimal(value) for key, value in re.findall(r"(\w+)=(-?\d+(?:\.\d+)?)", text)}


def all_numbers(text: str) -> list[Decimal]:
    return [Decimal(found) for found in re.findall(r"-?\d+(?:\.\d+)?", text)]


def first_number(text: str) -> Decimal:
    return all_numbers(text)[0]


def to(value: Decimal, places: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def test_areas_by_rectangle() -> None:
    for row in rows("area rectangle"):
        n = numbers(row["inputs"])
        assert m.area_rectangle(n["L"], n["W"]) == first_number(row["expected"]), row


def test_areas_by_ellipse_and_by_the_shortened_factor() -> None:
    for row in rows("area ellipse"):
        n = numbers(row["inputs"])
        exact, shortened = all_numbers(row["expected"])[0], all_numbers(row["expected"])[-1]
        assert to(m.area_ellipse(n["L"], n["W"]), 4) == exact, row
        assert abs(n["L"] * n["W"] * Decimal("0.785") - shortened) <= Decimal("0.0001"), row


def test_the_rectangle_is_larger_than_the_ellipse_by_four_over_pi() -> None:
    (row,) = rows("rect/ellipse overestimate ratio")
    ratio = m.area_rectangle(Decimal(7), Decimal(3)) / m.area_ellipse(Decimal(7), Decimal(3))
    assert to(ratio, 6) == Decimal("1.273240")
    assert "1.273240" in row["expected"]


def test_the_rectangle_overstates_in_the_published_means() -> None:
    """Rogers 2010: 4.3 against 3 cm2 is 43.3 per cent more (the paper's 41 is a mean of ratios)."""
    (row,) = rows("rect vs planimetry")
    assert to(m.percent_area_change(Decimal(3), Decimal("4.3")), 1) == Decimal("43.3")
    assert "43.3" in row["expected"]


def test_volumes_by_kundin() -> None:
    for row in rows("volume Kundin"):
        n = numbers(row["inputs"])
        assert m.volume_kundin(n["L"], n["W"], n["D"]) == first_number(row["expected"]), row


def test_volumes_lie_between_cone_and_half_ellipsoid() -> None:
    for row in rows("volume bracket"):
        n = numbers(row["inputs"])
        box = n["L"] * n["W"] * n["D"]
        printed = [Decimal(found) for found in re.findall(r"=(\d+\.\d+)", row["expected"])]
        computed = [box * size.PI / 12, box * size.PI / 6, m.area_ellipse(n["L"], n["W"]) * n["D"], box]
        assert [to(value, 4) for value in computed] == printed, row
        assert computed[0] < m.volume_kundin(n["L"], n["W"], n["D"]) < computed[1] < computed[2] < computed[3]


def test_percent_area_reduction_over_two_weeks() -> None:
    """GLMsData 1.4, data set manuka. The source article is RETRACTED (Int Wound J 2014;11:342): arithmetic only."""
    found = rows("percent area reduction 2 weeks")
    assert len(found) == 20
    for row in found:
        n = numbers(row["inputs"])
        assert to(m.percent_area_reduction(n["A0"], n["A14d"]), 4) == first_number(row["expected"]), row


def test_the_cohort_of_two_weeks() -> None:
    """The same data from its own file (RETRACTED article, arithmetic only): sums, mean, median, ratio of sums."""
    (row,) = rows("cohort summary")
    with reference("data/ulcer_area_14_days.csv").open(encoding="utf-8", newline="") as file:
        pairs = [(Decimal(line["Size0"]), Decimal(line["Size2"])) for line in csv.DictReader(file)]
    par = [m.percent_area_reduction(a, b) for a, b in pairs]
    first, now = sum((a for a, _ in pairs), Decimal(0)), sum((b for _, b in pairs), Decimal(0))
    assert all_numbers(row["expected"].replace("A0", "A").replace("A2", "A").replace(">=40", "")) == [
        first, now, to(mean(par), 4), to(median(par), 4), to(m.percent_area_reduction(first, now), 4),
        sum(p >= 40 for p in par), sum(p < 0 for p in par), sum(p == 0 for p in par),
    ]  # fmt: skip


def test_percent_change_of_the_dummy_series_rows() -> None:
    for row in rows("percent change from baseline"):
        found = re.search(r"baseline ([\d.]+) cm2, now ([\d.]+) cm2", row["inputs"])
        expected = re.search(r"PCHG=(-?[\d.]+)", row["expected"])
        assert found and expected
        assert abs(m.percent_area_change(Decimal(found[1]), Decimal(found[2])) - Decimal(expected[1])) <= TOLERANCE


def test_the_ties_of_the_dummy_series_are_exact_here() -> None:
    (row,) = rows("percent change rounding ties")
    pairs = re.findall(r"base ([\d.]+) now ([\d.]+)", row["inputs"])
    exact, printed = row["expected"].split(";")[:2]
    found = [m.percent_area_change(Decimal(base), Decimal(now)) for base, now in pairs]
    assert found == all_numbers(exact.replace("/", " "))
    for value, shown in zip(found, all_numbers(printed.split("(")[0]), strict=True):
        assert abs(value - shown) <= TOLERANCE


def test_the_whole_dummy_series() -> None:
    """effiplot (MIT), 1,080 rows, change precomputed by its author; a few are exact half ties: tolerance 0.006."""
    with reference("data/foot_ulcer_dummy_series.csv").open(encoding="utf-8", newline="") as file:
        data = list(csv.DictReader(file))
    assert len(data) == 1080
    for line in data:
        change = m.percent_area_change(Decimal(line["BASE"]), Decimal(line["AVAL"]))
        assert abs(change - Decimal(line["PCHG"])) <= TOLERANCE, line
        assert abs(max(-change, Decimal(0)) - Decimal(line["PDCR"])) <= TOLERANCE, line
        assert abs(Decimal(line["AVAL"]) - Decimal(line["BASE"]) - Decimal(line["CHG"])) < Decimal("0.06"), line


def test_a_cohort_mean() -> None:
    """WOCN Society 2015 abstract: 23.17 to 14.93 cm2 is printed as 36 per cent, 69.50 to 42.26 as 39."""
    (row,) = rows("cohort mean size")
    first, second = all_numbers(row["expected"])[0], all_numbers(row["expected"])[2]
    assert to(m.percent_area_reduction(Decimal("23.17"), Decimal("14.93")), 2) == first
    assert to(m.percent_area_reduction(Decimal("69.50"), Decimal("42.26")), 2) == second


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


def test_gilman_on_ellipses() -> None:
    for row in rows("Gilman, ellipse"):
        a, b, c, d, weeks = all_numbers(row["inputs"].replace("->", " "))
        areas = m.area_ellipse(a, b), m.area_ellipse(c, d)
        rounds = m.perimeter_ellipse(a, b), m.perimeter_ellipse(c, d)
        moved = m.gilman_advance(*areas, *rounds)
        par = m.percent_area_reduction(*areas)
        computed = [to(value, 4) for value in (*areas, *rounds, moved, moved / weeks)] + [to(par, 2)]
        assert computed == all_numbers(row["expected"].replace("->", " ")), row


def test_gilman_on_circles_and_squares() -> None:
    """Identities: a circle's advance is the difference of the radii, a square's half the difference of the sides."""
    (circle,), (square,) = rows("Gilman linear advance, circles"), rows("Gilman linear advance, squares")
    r1, r2 = all_numbers(circle["inputs"].replace("->", " "))
    round_ = [m.area_ellipse(2 * r, 2 * r) for r in (r1, r2)] + [m.perimeter_ellipse(2 * r, 2 * r) for r in (r1, r2)]
    assert to(m.gilman_advance(*round_), 12) == r1 - r2 == 1
    s1, s2 = all_numbers(square["inputs"].replace("->", " "))
    assert m.gilman_advance(s1 * s1, s2 * s2, 4 * s1, 4 * s2) == (s1 - s2) / 2 == Decimal("0.5")


def test_log_rates_half_lives_and_times_to_a_small_area() -> None:
    """k = ln(A0/At)/t, letter in Wounds, July 2003."""
    for row in rows("log (exponential) healing rate"):
        n = numbers(row["inputs"])
        rate = m.log_rate(n["A0"], n["At"], n["t"])
        assert to(rate, 6) == numbers(row["expected"])["k"], row
        if rate == 0:
            assert "half-life=inf" in row["expected"]
            for work in (lambda: m.half_life(Decimal(0)), lambda: m.time_to_area(Decimal(4), Decimal(1), Decimal(0))):
                with pytest.raises(m.MeasureError):
                    work()
        else:
            assert to(m.half_life(rate), 4) == numbers(row["expected"])["life"]
            assert to(m.time_to_area(n["A0"], Decimal("0.1"), rate), 2) == all_numbers(row["expected"])[-1]


def test_linear_extrapolation() -> None:
    """J Wound Care 2006;15(7):299-303: 12 cm2 at 1.5 cm2 a week closes in 8 weeks on the line."""
    (row,) = rows("linear-in-area extrapolation")
    weeks = [Decimal(n) for n in range(4)]
    found = m.project_linear(weeks, [12 - Decimal("1.5") * w for w in weeks])
    assert found.days is not None and to(found.days, 1) == first_number(row["expected"])


def test_shape_effects_of_a_constant_advance_of_the_edge() -> None:
    """Saiko 2021: half-way in time a long cut is half closed, a round wound three quarters."""
    (round_,), (shapes,) = rows("constant-radius-advance"), rows("shape effect")
    whole, half = m.area_ellipse(Decimal(4), Decimal(4)), m.area_ellipse(Decimal(2), Decimal(2))
    assert m.percent_area_reduction(whole, half) == first_number(round_["expected"].replace("PAR ", "")) == 75
    assert "75% closed" in shapes["expected"]
    assert m.percent_area_reduction(Decimal(1000) * 4, Decimal(1000) * 2) == 50


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
    reference("worked_values.tsv")
    left = [row["quantity"] for row in table() if not row["quantity"].startswith(COMPUTED + NOT_COMPUTED)]
    assert left == []


def test_every_computed_kind_of_row_is_asked_for_in_a_test() -> None:
    """The list above cannot grow without a test that reads the rows."""
    text = Path(__file__).read_text("utf-8")
    asked = tuple(re.findall(r'rows\("([^"]+)"\)', text)) + tuple(re.findall(r'\("(NERDS|STONEES)"', text))
    assert [start for start in COMPUTED if not any(a.startswith(start) or start.startswith(a) for a in asked)] == []
