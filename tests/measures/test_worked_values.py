"""Every worked value of the reference table, each with its source in the table's own column."""

from __future__ import annotations

import csv
import math
import re
from decimal import Decimal
from statistics import mean, median

import pytest

from tests.paths import reference
from woundfhir.measures import burn, change, limb, scales, size


def rows() -> list[dict[str, str]]:
    with reference("worked_values.tsv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, delimiter="\t"))


def numbers(text: str) -> dict[str, Decimal]:
    return {key: Decimal(value) for key, value in re.findall(r"(\w+)=(-?\d+(?:\.\d+)?)", text)}


def first_number(text: str) -> Decimal:
    found = re.search(r"-?\d+(?:\.\d+)?", text)
    assert found
    return Decimal(found[0])


def test_areas_by_rectangle_and_ellipse() -> None:
    seen = 0
    for row in rows():
        if row["quantity"].startswith("area "):
            n = numbers(row["inputs"])
            work = size.area_rectangle if "rectangle" in row["quantity"] else size.area_ellipse
            assert round(work(n["L"], n["W"]), 4) == first_number(row["expected"]), row
            seen += 1
    assert seen == 14


def test_the_rectangle_is_larger_than_the_ellipse_by_four_over_pi() -> None:
    ratio = size.area_rectangle(Decimal(7), Decimal(3)) / size.area_ellipse(Decimal(7), Decimal(3))
    assert round(ratio, 6) == Decimal("1.273240")


def test_volumes_by_kundin_lie_between_cone_and_half_ellipsoid() -> None:
    for row in rows():
        if row["quantity"].startswith("volume Kundin"):
            n = numbers(row["inputs"])
            volume = size.volume_kundin(n["L"], n["W"], n["D"])
            assert volume == first_number(row["expected"])
            box = n["L"] * n["W"] * n["D"]
            assert box * size.PI / 12 < volume < box * size.PI / 6


def test_percent_area_reduction_over_two_weeks() -> None:
    """GLMsData 1.4, data set manuka. The source article is RETRACTED (Int Wound J 2014;11:342): arithmetic only."""
    seen = 0
    for row in rows():
        if row["quantity"] == "percent area reduction 2 weeks":
            n = numbers(row["inputs"])
            assert round(change.percent_area_reduction(n["A0"], n["A14d"]), 4) == first_number(row["expected"]), row
            seen += 1
    assert seen == 20


def test_the_cohort_of_two_weeks() -> None:
    """The same data (retracted article, arithmetic only): mean, median and ratio of sums."""
    with reference("data/ulcer_area_14_days.csv").open(encoding="utf-8", newline="") as file:
        data = list(csv.DictReader(file))
    columns = list(data[0])
    before, after = (next(c for c in columns if c.lower() == name or c.endswith(end)) for name, end in (("size0", "0"), ("size2", "14")))
    pairs = [(Decimal(r[before]), Decimal(r[after])) for r in data]
    par = [change.percent_area_reduction(a, b) for a, b in pairs]
    assert round(mean(par), 4) == Decimal("13.5585")
    assert round(median(par), 4) == Decimal("12.2384")
    total = change.percent_area_reduction(sum(a for a, _ in pairs), sum(b for _, b in pairs))  # type: ignore[arg-type]
    assert round(total, 4) == Decimal("9.5309")
    assert sum(p < 0 for p in par) == 6 and sum(p == 0 for p in par) == 1 and sum(p >= 40 for p in par) == 7


def test_percent_change_of_the_dummy_series_rows() -> None:
    for row in rows():
        if row["quantity"].startswith("percent change from baseline"):
            found = re.search(r"baseline ([\d.]+) cm2, now ([\d.]+) cm2", row["inputs"])
            expected = re.search(r"PCHG=(-?[\d.]+)", row["expected"])
            assert found and expected
            assert abs(change.percent_area_change(Decimal(found[1]), Decimal(found[2])) - Decimal(expected[1])) <= Decimal("0.006")


def test_the_whole_dummy_series() -> None:
    """effiplot (MIT), 1,080 rows with change precomputed by its author; six are exact half ties: tolerance 0.006."""
    with reference("data/foot_ulcer_dummy_series.csv").open(encoding="utf-8", newline="") as file:
        data = list(csv.DictReader(file))
    columns = {c.upper(): c for c in data[0]}
    seen = 0
    for row in data:
        base, moved, percent = (row[columns[c]] for c in ("BASE", "CHG", "PCHG"))
        if not percent or percent == "NA":
            continue
        now = Decimal(base) + Decimal(moved)
        assert abs(change.percent_area_change(Decimal(base), now) - Decimal(percent)) <= Decimal("0.006")
        seen += 1
    assert seen == 1080


def test_the_honey_sheet_cohort_means() -> None:
    """WOCN Society 2015 abstract: 23.17 to 14.93 cm2 is printed as 36 per cent."""
    assert round(change.percent_area_reduction(Decimal("23.17"), Decimal("14.93")), 2) == Decimal("35.56")
    assert round(change.percent_area_reduction(Decimal("69.50"), Decimal("42.26")), 2) == Decimal("39.19")


def test_the_published_push_case() -> None:
    """J Korean Med Ophthalmol Otolaryngol Dermatol 31(4) p126 table 3: totals 12, 12, 10, 10, 8."""
    totals = []
    for row in rows():
        if row["quantity"].startswith("PUSH 3.0 total"):
            n = numbers(row["inputs"])
            scores = re.search(r"exudate (\d); tissue (\d)", row["inputs"])
            assert scores
            totals.append(scales.push_total(size.area_rectangle(n["L"], n["W"]), int(scores[1]), int(scores[2])))
    assert totals == [12, 12, 10, 10, 8]


def test_every_push_area_bin_and_its_gaps() -> None:
    seen = 0
    for row in rows():
        if row["quantity"] == "PUSH 3.0 area sub-score":
            assert scales.push_area_score(first_number(row["inputs"])) == int(row["expected"]), row
            seen += 1
    assert seen > 20
    assert [scales.push_area_score(Decimal(a)) for a in ("8.04", "8.05", "0.64", "0.65")] == [7, 8, 2, 3]


@pytest.mark.parametrize(
    ("first", "now", "expected", "weeks", "rate"),
    [((5, 3), ("4", "2.2"), "0.4289", 4, "0.1072"), ((4, 3), ("3", "2"), "0.4964", 2, "0.2482"), ((6, 6), ("5", "5"), "0.5000", 1, "0.5000")],
)
def test_gilman_on_ellipses(first: tuple[int, int], now: tuple[str, str], expected: str, weeks: int, rate: str) -> None:
    """Worked values of the reference table (self-computed), ellipses with Ramanujan's perimeter."""
    a, b, c, d = Decimal(first[0]), Decimal(first[1]), Decimal(now[0]), Decimal(now[1])
    moved = change.gilman_advance(size.area_ellipse(a, b), size.area_ellipse(c, d), size.perimeter_ellipse(a, b), size.perimeter_ellipse(c, d))
    assert round(moved, 4) == Decimal(expected)
    assert round(moved / weeks, 4) == Decimal(rate)


def test_log_rates_and_half_lives() -> None:
    """k = ln(A0/At)/t, letter in Wounds, July 2003."""
    for first, now, rate, half in (("10", "5", "0.173287", "4.0000"), ("12", "3", "0.346574", "2.0000")):
        k = change.log_rate(Decimal(first), Decimal(now), Decimal(4))
        assert round(k, 6) == Decimal(rate)
        assert round(change.half_life(k), 4) == Decimal(half)
    assert change.log_rate(Decimal(4), Decimal(4), Decimal(4)) == 0


def test_linear_extrapolation() -> None:
    """J Wound Care 2006;15(7):299-303: 12 cm2 at 1.5 cm2 a week closes in 8 weeks on the line."""
    weeks = [Decimal(n) for n in range(4)]
    found = change.project_linear(weeks, [12 - Decimal("1.5") * w for w in weeks])
    assert found.days is not None and round(found.days, 1) == Decimal("8.0")


def test_limb_pressure_indices() -> None:
    seen = 0
    for row in rows():
        found = re.search(r"DP=(\d+) PT=(\d+); brachial L=(\d+) R=(\d+)", row["inputs"])
        if row["quantity"].startswith("ABPI") and found:
            index = limb.ankle_brachial_index(*(Decimal(n) for n in found.groups()))
            assert round(index, 4) == first_number(row["expected"]), row
            seen += 1
    assert seen == 6
    assert limb.toe_brachial_index(Decimal(70), Decimal(140), None) == Decimal("0.5")


def test_the_braden_total_and_its_limits() -> None:
    """Braden and Bergstrom 1988 (sums only)."""
    assert scales.braden_total([2, 3, 2, 2, 3, 2]) == 14
    assert scales.braden_total([1] * 6) == 6
    assert scales.braden_total([4, 4, 4, 4, 4, 3]) == 23


def test_every_row_of_the_age_table_sums_to_forty_and_the_body_to_a_hundred() -> None:
    """Lund and Browder 1944: 2A + 4B + 4C = 40 at every age; the fixed parts are 60."""
    for age, (head, thigh, leg) in burn.AGE_TABLE.items():
        assert 2 * head + 4 * thigh + 4 * leg == 40
        assert sum(burn.age_table(age).values()) == 100
    for row in rows():
        found = re.search(r"age ([\w-]+): A head=([\d.]+)% B thigh=([\d.]+)% C leg=([\d.]+)%", row["inputs"])
        if found:
            assert burn.AGE_TABLE[found[1]] == (Decimal(found[2]), Decimal(found[3]), Decimal(found[4]))


def test_the_rule_of_nines_covers_the_body() -> None:
    """Wallace 1951: the parts of an adult sum to 100."""
    assert burn.rule_of_nines({p: Decimal(2 if p in ("arm", "leg") else 1) for p in burn.NINES}) == 100


def test_circles_and_squares_advance_exactly() -> None:
    """Identities: a circle's advance is the difference of radii, a square's half the difference of sides."""
    for r1, r2 in ((2.0, 1.0), (3.3, 0.7)):
        areas = [Decimal(math.pi * r * r) for r in (r1, r2)]
        rounds = [Decimal(2 * math.pi * r) for r in (r1, r2)]
        assert abs(change.gilman_advance(*areas, *rounds) - Decimal(r1 - r2)) < Decimal("1e-9")
    assert change.gilman_advance(Decimal(16), Decimal(9), Decimal(16), Decimal(12)) == Decimal("0.5")
