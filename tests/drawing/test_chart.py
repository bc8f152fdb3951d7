"""The trend chart: well-formed, the same bytes each time, to scale, readable without colour, never without words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from woundfhir.drawing import trend_chart
from woundfhir.drawing.axis import date_ticks, round_step
from woundfhir.drawing.frame import BOTTOM, LEFT, RIGHT, thinned
from woundfhir.drawing.svg import SVG, text_width
from woundfhir.measures import Course, Measured, Threshold, trend

NS = {"s": SVG}
DAY = date(2026, 3, 2)
CUT = Threshold(Decimal(40), 4, "a source")


def at(days: int) -> str:
    return (DAY + timedelta(days=days)).isoformat()


def size(days: int, length: str, width: str = "3.0 cm", **more: object) -> Measured:
    return Measured(at(days), length, width, "1 cm", **more)  # type: ignore[arg-type]


STORY = [
    size(0, "4.0 cm", method="ruler"),
    size(7, "4.5 cm", method="ruler", events=("debrided",)),
    size(14, "3.0 cm", method="ruler"),
    size(35, "2.5 cm", method="ruler"),
    size(42, "2.0 cm", method="tracing"),
]


def story() -> Course:
    return trend(STORY, thresholds=[CUT], next_full_assessment=at(49), wound="W1")


def drawn(course: Course, **more: float) -> etree._Element:
    return etree.fromstring(trend_chart(course, **more))


def texts(root: etree._Element) -> list[str]:
    return [str(node.text) for node in root.iterfind(".//s:text", NS)]


def test_a_chart_is_svg_with_title_and_description_and_nothing_active() -> None:
    root = etree.fromstring(trend_chart(story(), title="W1 <&> test"))
    assert root.findtext("s:title", namespaces=NS) == "W1 <&> test"
    assert "5 measurements" in str(root.findtext("s:desc", namespaces=NS))
    assert root.get("role") == "img"
    allowed = {"svg", "title", "desc", "rect", "line", "path", "circle", "text"}
    assert {etree.QName(node).localname for node in root.iter(etree.Element)} <= allowed
    assert not [
        key for node in root.iter(etree.Element) for key in node.attrib if "href" in key or key.startswith("on")
    ]


def test_the_same_course_gives_the_same_bytes() -> None:
    assert trend_chart(story()) == trend_chart(story())


def test_colour_is_never_what_tells() -> None:
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', trend_chart(story()).decode())) <= {"#000", "#fff", "none"}


def test_no_font_is_named() -> None:
    assert set(re.findall(r'font-family="([^"]+)"', trend_chart(story()).decode())) == {"sans-serif"}


def test_breaks_cut_offs_and_the_next_review_are_drawn_and_stated_in_words() -> None:
    root = drawn(story())
    said = " ".join(texts(root))
    for words in (
        "length x width, ruler",
        "length x width, tracing",
        "debrided in between",
        "measured in another way: sizes before and after are not compared",
        "more than 14 days in between",
        "larger than the one before: what explains it?",
        "40 % smaller at 4 weeks: no measurement to compare. Source: a source",
        "next full assessment 2026-04-20",
    ):
        assert words in said
    dashes = {node.get("stroke-dasharray") for node in root.iter(etree.Element)}
    assert {"2 3", "1 5", "9 3 2 3"} <= dashes


def test_the_description_says_what_the_legend_says() -> None:
    words = str(drawn(story()).findtext("s:desc", namespaces=NS))
    assert "Debrided in between: 1." in words and "Larger than the one before: 1." in words
    assert (
        "40 % smaller at 4 weeks: no measurement to compare (source: a source)." in words
        and "Next full assessment 2026-04-20." in words
    )


def test_areas_and_dates_are_to_scale() -> None:
    """Three points on a line stay on a line, and half the area lies half as high."""
    root = drawn(trend([size(0, "4.0 cm"), size(14, "3.0 cm"), size(28, "2.0 cm")]), width=720, height=400)
    points = [(float(c.get("cx", "0")), float(c.get("cy", "0"))) for c in root.iterfind("s:circle", NS)][:3]
    (x1, y1), (x2, y2), (x3, y3) = points
    assert (x1, x3) == (LEFT, 720 - RIGHT) and abs(x2 - (x1 + x3) / 2) < 0.02 and abs(y2 - (y1 + y3) / 2) < 0.02
    bottom = 400 - BOTTOM
    assert abs((bottom - y3) / (bottom - y1) - 0.5) < 0.001


def test_a_level_lies_at_its_share_of_the_first_area_and_ends_on_its_day() -> None:
    root = drawn(trend([size(0, "4.0 cm"), size(28, "4.0 cm")], thresholds=[CUT]), width=720, height=400)
    (level, *_) = [
        line for line in root.iterfind("s:line[@stroke-dasharray='2 3']", NS) if float(line.get("y1", "0")) < 360
    ]
    first = root.find("s:circle", NS)
    assert first is not None
    bottom = 400 - BOTTOM
    share = (bottom - float(level.get("y1", "0"))) / (bottom - float(first.get("cy", "0")))
    assert abs(share - 0.6) < 0.001
    assert float(level.get("x2", "0")) == 720 - RIGHT


def test_no_line_runs_across_another_way_of_measuring() -> None:
    """Four sizes by ruler, the last after a gap, one by tracing: a line, a dotted stretch, nothing to the tracing."""
    paths = [p for p in drawn(story()).iterfind("s:path[@fill='none']", NS) if not str(p.get("d")).endswith("Z")]
    found = {(str(p.get("d")).count("L"), p.get("stroke-dasharray")) for p in paths}
    assert found == {(2, None), (1, "1 5")}


def test_five_years_of_days_are_drawn_as_a_line_with_marks_at_its_ends() -> None:
    days = (date(2021, 1, 1) + timedelta(days=n) for n in range(1800))
    measured = [Measured(day.isoformat(), f"{4 + n % 3}.0 cm", "3.0 cm", "1 cm") for n, day in enumerate(days)]
    content = trend_chart(trend(measured))
    assert len(etree.fromstring(content).findall("s:circle", NS)) == 3  # two ends, and the legend's
    assert len(content) < 40_000


def test_no_measurement_is_stated_in_words() -> None:
    assert b"No measurement" in trend_chart(Course("W1"))
    assert b"No measurement" in trend_chart(trend([Measured("once", "4 cm")]))


@pytest.mark.parametrize("far", ["2046-01-01", "9999-12-31", "2026-01-01", "when better"])
def test_a_review_that_does_not_fit_on_the_axis_is_reported_and_does_not_squeeze_it(far: str) -> None:
    root = drawn(trend(STORY, next_full_assessment=far))
    assert f"next full assessment {far}" in texts(root)
    assert root.find("s:line[@stroke-dasharray='9 3 2 3']", NS) is None


def test_a_title_with_what_xml_cannot_hold_is_still_drawn() -> None:
    assert "W1" in " ".join(texts(etree.fromstring(trend_chart(story(), title="W1\x00\x0b" + "very long " * 40))))


def overlapping(root: etree._Element, ignore_below: float) -> list[tuple[str, str]]:
    """Pairs of texts in the chart itself whose boxes meet."""
    boxes = []
    for node in root.iterfind("s:text", NS):
        x, y, points = float(node.get("x", "0")), float(node.get("y", "0")), float(node.get("font-size", "12"))
        wide = text_width(str(node.text), points) * 0.95
        x -= {"start": 0.0, "middle": wide / 2, "end": wide}[node.get("text-anchor", "start")]
        if y < ignore_below:
            boxes.append((x, y - points * 0.8, x + wide, y, str(node.text)))
    return [
        (a[4], b[4])
        for i, a in enumerate(boxes)
        for b in boxes[i + 1 :]
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
    ]


sizes = st.lists(
    st.builds(
        size,
        st.integers(0, 900),
        st.integers(0, 300).map(lambda n: f"{n} mm"),
        st.integers(1, 200).map(lambda n: f"{n} mm"),
        method=st.sampled_from(["ruler", "tracing", "photo"]),
        events=st.sampled_from([(), ("debrided",)]),
    ),
    max_size=6,
)
cuts = st.lists(st.builds(Threshold, st.integers(1, 99).map(Decimal), st.integers(1, 24), st.just("s")), max_size=3)


@given(sizes, cuts, st.sampled_from([320.0, 700.0, 1200.0]), st.integers(-10, 960))
def test_whatever_is_drawn_no_words_meet_and_nothing_leaves_the_paper(
    measured: list[Measured], thresholds: list[Threshold], width: float, review: int
) -> None:
    course = trend(measured, thresholds=thresholds, next_full_assessment=at(review))
    root = drawn(course, width=width, height=300)
    assert overlapping(root, 300) == []
    high = float(root.get("height", "0"))
    for node in root.iterfind("s:circle", NS):
        assert 0 <= float(node.get("cx", "0")) <= width and 0 <= float(node.get("cy", "0")) <= high
    for node in root.iterfind("s:text", NS):
        assert float(node.get("y", "0")) <= high


@given(st.floats(0.01, 1e6))
def test_steps_are_round_and_few(highest: float) -> None:
    step = round_step(highest)
    assert 1 <= highest / step <= 5 * (1 + 1e-6)
    assert float(f"{step:.1e}"[:3]) in (1.0, 2.0, 2.5, 5.0)


@given(st.dates(date(1900, 1, 1), date(2100, 1, 1)), st.integers(0, 20000), st.integers(2, 12))
def test_dates_on_the_axis_are_in_order_few_and_inside(first: date, span: int, most: int) -> None:
    last = first + timedelta(days=span)
    ticks = date_ticks(first, last, most)
    assert len(ticks) <= most + 1
    assert [day for day, _ in ticks] == sorted({day for day, _ in ticks})
    assert all(first <= day <= last and day.isoformat().startswith(label) for day, label in ticks)


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 99)), min_size=1, max_size=300))
def test_a_thinned_line_keeps_its_ends_and_its_highest_and_lowest(spots: Iterable[tuple[int, int]]) -> None:
    line = [(x / 4, float(y)) for x, y in sorted(spots, key=lambda spot: spot[0])]
    kept = thinned(line)
    assert kept[0] == line[0] and kept[-1] == line[-1]
    assert {min(y for _, y in line), max(y for _, y in line)} <= {y for _, y in kept}
    assert len(kept) <= 4 * 14
