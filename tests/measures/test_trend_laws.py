"""Laws of the trend over generated measurements: it never fails, and no number rests on what cannot be compared."""

from __future__ import annotations

import re
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from tests.measures.weekly import at, weekly
from woundfhir.measures import Measured, Threshold, percent_area_change, trend
from woundfhir.measures.rounding import area_text, length_text

quantities = st.one_of(
    st.none(),
    st.decimals(min_value=-3, max_value=30, places=1).map(lambda d: f"{d} cm"),
    st.sampled_from(["", "0 cm", "0.0 cm", "4", "12 mm", "<0.3 cm", "2 cm2", "big", "999999999999999999 cm", "4 ells"]),
)
moments = st.one_of(
    st.integers(0, 60).map(at),
    st.sampled_from(["2026", "2026-03", "", "once", "2026-03-05T10:00:00Z", "2026-03-05T10:00:00+14:00"]),
)
seen = st.builds(
    Measured,
    at=moments,
    length=quantities,
    width=quantities,
    depth=quantities,
    area=st.one_of(st.none(), st.sampled_from(["3.0 cm2", "300 mm2", "-1 cm2", "x"])),
    method=st.sampled_from(["ruler", "tracing", ""]),
    events=st.sampled_from([(), ("debrided",)]),
)


@given(st.lists(seen, max_size=12))
def test_nothing_that_comes_in_makes_it_fail_and_what_comes_out_holds_together(measurements: list[Measured]) -> None:
    found = trend(measurements, thresholds=[Threshold(Decimal(40), 4, "a source")])
    assert all(point.area >= 0 for point in found.points)
    assert [point.day for point in found.points] == sorted(point.day for point in found.points)
    assert len({point.way for point in found.stretch}) <= 1
    covered = [i for segment in found.segments for i in range(segment.first, segment.last + 1)]
    assert covered == list(range(len(found.points)))
    if found.since_first is not None:
        assert found.since_first == percent_area_change(found.stretch[0].area, found.stretch[-1].area)
    for remark in found.remarks:
        assert not re.search(r"\d", remark.message), "a message holds no value"


@given(st.lists(st.integers(1, 300), min_size=2, max_size=20), st.integers(2, 9))
def test_the_unit_does_not_change_the_course(lengths: list[int], by: int) -> None:
    one = trend([Measured(at(7 * i), f"{n} mm", "20 mm", "5 mm") for i, n in enumerate(lengths)])
    centimetres = [f"{Decimal(n) / 10} cm" for n in lengths]
    other = trend([Measured(at(7 * i), text, "2 cm", "0.5 cm") for i, text in enumerate(centimetres)])
    assert one.since_first == other.since_first
    assert (one.projection.days is None) == (other.projection.days is None)
    scaled = trend([Measured(at(7 * i), f"{n * by} mm", "20 mm", "5 mm") for i, n in enumerate(lengths)])
    assert one.since_first is not None and scaled.since_first is not None
    assert abs(scaled.since_first - one.since_first) < Decimal("1e-9")


@given(st.permutations(range(6)))
def test_the_order_in_which_visits_come_does_not_change_the_numbers(order: list[int]) -> None:
    visits = weekly("4.0", "3.5", "3.6", "2.0", "1.0", "0.9")
    found, straight = trend([visits[i] for i in order]), trend(visits)
    assert [p.area for p in found.points] == [p.area for p in straight.points]
    assert (found.since_first, found.rate, found.projection) == (
        straight.since_first, straight.rate, straight.projection
    )  # fmt: skip


def test_a_size_of_zero_is_compared_whatever_its_method() -> None:
    """Arithmetic: nothing is left, by any method."""
    seen = weekly("4.0", "3.0", method="ruler")
    found = trend([*seen, Measured(at(14), "0 cm", "0 cm", method="")])
    assert found.since_first == -100 and found.breaks == ()
    later = [*weekly("4.0", "3.0", method="tracing")[1:], Measured(at(14), "0 cm", "0 cm")]
    traced = trend([*weekly("4.0", method="ruler"), *later])
    assert [mark.kind for mark in traced.breaks] == ["method"] and traced.since_last == -100


def test_closed_and_open_again_breaks_the_line_and_nothing_is_projected_over_it() -> None:
    """Four falling sizes, a closure, and two sizes after it (a promise of ours, no source)."""
    before = weekly("4.0", "3.0", "2.0", "1.0")
    after = [Measured(at(60 + 7 * i), f"{side} cm", "2.0 cm", depth="0.5 cm", episode=1) for i, side in enumerate("32")]
    found = trend([*before, *after])
    assert [mark.kind for mark in found.breaks] == ["closure", "gap"]
    assert len(found.stretch) == 2 and found.since_first is not None
    assert found.projection.days is None and found.projection.reason == "fewer than three measurements"
    assert found.rate is not None and found.four_weeks is None


@given(st.lists(st.decimals(min_value="0.1", max_value=20, places=1), min_size=1, max_size=6), st.integers(0, 6))
def test_no_number_rests_on_points_of_two_episodes(sides: list[Decimal], cut: int) -> None:
    """Whatever came before a closure changes no number after it."""
    seen = [Measured(at(7 * i), f"{side} cm", "2.0 cm", episode=int(i >= cut)) for i, side in enumerate(sides)]
    whole, alone = trend(seen), trend(seen[cut:] or seen)
    assert (whole.since_first, whole.since_last, whole.four_weeks, whole.advance, whole.rate, whole.projection) == (
        alone.since_first, alone.since_last, alone.four_weeks, alone.advance, alone.rate, alone.projection
    )  # fmt: skip


@given(st.integers(1, 99), st.integers(1, 99))
def test_inches_show_no_digit_that_was_not_measured(length: int, width: int) -> None:
    """NIST Special Publication 811, 2008, B.7.1 (from memory): as many digits as were written, one more at most."""
    point = trend([Measured(at(0), f"{length / 10:.1f} [in_i]", f"{width / 10:.1f} [in_i]")]).points[0]
    written = [len(str(tenths).lstrip("0")) for tenths in (length, width)]
    shown = [len(length_text(value, digits).replace(".", "").strip("0") or "0") for value, digits in point.sides[:2]]
    assert all(there <= here + 1 for there, here in zip(shown, written, strict=True))
    area = area_text(point.area, point.area_digits).removesuffix(" cm²").replace(".", "").strip("0")
    assert len(area) <= max(2, min(written) + 1)
