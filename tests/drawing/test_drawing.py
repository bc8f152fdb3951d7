"""Drawings: well-formed, the same bytes each time, to scale, and never without words."""

from __future__ import annotations

import doctest
import math
import re
from decimal import Decimal
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from tests.strategies import answer
from woundfhir.catalogue import catalogue
from woundfhir.drawing import chart, clock, clock_face, spark, svg, trend_chart
from woundfhir.measures.course import Course, Threshold, course
from woundfhir.record import History

NS = {"s": svg.SVG}


def story(sizes: list[tuple[str, str, str]], method: str = "ruler") -> Course:
    visits = [
        {
            "id": f"V{i}",
            "at": day,
            "status": "final",
            "wounds": [{"wound": "W1", "assessment": {"length": a, "width": b, "measure_method": method}}],
        }
        for i, (day, a, b) in enumerate(sizes)
    ]
    history = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": visits})
    return course(history, "W1", thresholds=[Threshold(Decimal(40), 4, "a source")])


WEEKS = [("2026-03-01", "4.0 cm", "3.0 cm"), ("2026-03-08", "3.5 cm", "2.8 cm"), ("2026-03-30", "3.0 cm", "2.0 cm")]


def test_a_chart_is_svg_with_title_and_description_and_no_script() -> None:
    root = etree.fromstring(trend_chart(story(WEEKS), title="W1 <&> test"))
    assert root.findtext("s:title", namespaces=NS) == "W1 <&> test"
    assert "3 measurements" in str(root.findtext("s:desc", namespaces=NS))
    assert root.get("role") == "img"
    assert not root.xpath("//*[local-name()='script' or local-name()='image']")


def test_the_same_course_gives_the_same_bytes() -> None:
    assert trend_chart(story(WEEKS)) == trend_chart(story(WEEKS))


def test_a_break_is_drawn_and_told_in_words() -> None:
    text = trend_chart(story(WEEKS)).decode()
    assert "1: more than 14 days in between" in text
    assert "40 % smaller at 4 weeks" in text


def test_colour_is_never_what_tells() -> None:
    text = trend_chart(story(WEEKS)).decode() + clock_face("4 cm", "3 cm").decode()
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', text)) <= {"#000", "#fff", "none", "url(#hatch)"}


def test_a_long_series_is_drawn_without_a_dot_for_each() -> None:
    from datetime import date, timedelta

    days = [(date(2021, 1, 1) + timedelta(days=n)).isoformat() for n in range(400)]
    root = etree.fromstring(trend_chart(story([(day, "4.0 cm", "3.0 cm") for day in days])))
    assert len(root.findall("s:circle", NS)) == 2


def test_no_measurement_is_said_in_words() -> None:
    assert b"No measurement" in trend_chart(Course("W1"))


def test_the_wound_is_drawn_to_scale() -> None:
    root = etree.fromstring(clock_face("6 cm", "3 cm"))
    ellipse = root.find("s:ellipse", NS)
    assert ellipse is not None
    assert math.isclose(float(ellipse.get("ry", "0")) / float(ellipse.get("rx", "1")), 2, rel_tol=0.01)


def test_a_tunnel_lies_at_its_hour_and_is_as_long_as_it_is_deep() -> None:
    root = etree.fromstring(clock_face("4 cm", "4 cm", tunnels=[{"clock": "3", "depth": "2 cm", "end_felt": "no"}]))
    ellipse, tunnel = root.find("s:ellipse", NS), root.find("s:line[@stroke-dasharray='7 4']", NS)
    assert ellipse is not None and tunnel is not None
    radius = float(ellipse.get("rx", "0"))
    assert tunnel.get("y1") == tunnel.get("y2") == ellipse.get("cy")
    assert math.isclose(float(tunnel.get("x2", "0")) - float(tunnel.get("x1", "0")), radius, rel_tol=0.01)
    assert "END NOT FELT" in str(root.findtext("s:desc", namespaces=NS))


@given(
    answer(catalogue().concept("assessment.length")),
    answer(catalogue().concept("assessment.width")),
    answer(catalogue().concept("assessment.undermining")),
    answer(catalogue().concept("assessment.tunnels")),
)
def test_any_answer_can_be_drawn(length: Any, width: Any, undermining: Any, tunnels: Any) -> None:
    etree.fromstring(clock_face(length, width, undermining, tunnels))


@given(st.lists(st.decimals(min_value=0, max_value=500, places=1), max_size=200))
def test_a_spark_is_never_longer_than_asked(values: list[Decimal]) -> None:
    assert len(spark(values, width=30)) <= 30


def test_every_example_in_the_docstrings_runs() -> None:
    from importlib import import_module

    for module in (svg, chart, clock, import_module("woundfhir.drawing.spark")):
        assert doctest.testmod(module).failed == 0
