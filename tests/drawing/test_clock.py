"""The clock face: to scale, hours where a clock has them, words for everything, never a traceback."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest
from hypothesis import given
from lxml import etree

from tests.strategies import answer
from woundfhir.catalogue import catalogue
from woundfhir.drawing import clock_face, clock_span, clock_words
from woundfhir.drawing.svg import SVG

NS = {"s": SVG}


def drawn(*answers: Any, **more: Any) -> etree._Element:
    return etree.fromstring(clock_face(*answers, spellings={}, **more))


def ellipse(root: etree._Element) -> dict[str, float]:
    found = root.find("s:ellipse", NS)
    assert found is not None
    return {key: float(found.get(key, "0")) for key in ("cx", "cy", "rx", "ry")}


def corners(root: etree._Element) -> list[tuple[float, float]]:
    path = root.find("s:path[@fill='url(#hatch)']", NS)
    assert path is not None
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", str(path.get("d")))]


def test_the_wound_is_drawn_to_scale() -> None:
    wound = ellipse(drawn("6 cm", "3 cm"))
    assert math.isclose(wound["ry"] / wound["rx"], 2, rel_tol=0.001)


def test_the_bar_has_the_scale_of_the_wound() -> None:
    root = drawn("6 cm", "3 cm")
    bar = root.find("s:line[@stroke-width='2']", NS)
    assert bar is not None
    label = next(str(text.text) for text in root.iterfind("s:text", NS) if re.fullmatch(r"[\d.]+ cm", str(text.text)))
    per_cm = (float(bar.get("x2", "0")) - float(bar.get("x1", "0"))) / float(label.split()[0])
    assert math.isclose(2 * ellipse(root)["ry"] / per_cm, 6, rel_tol=0.001)


def test_wounds_side_by_side_are_drawn_to_one_scale() -> None:
    large, small = ("6 cm", "3 cm", [{"from": "2", "to": "6", "depth": "2 cm"}]), ("1.5 cm", "1 cm")
    span = max(clock_span(*large), clock_span(*small))
    before, after = ellipse(drawn(*large, span=span)), ellipse(drawn(*small, span=span))
    assert math.isclose(before["ry"] / after["ry"], 4, rel_tol=0.001)
    assert ellipse(drawn(*large)) == before  # the largest one fills its face
    assert drawn(None, None, span=span).find("s:ellipse", NS) is not None  # of no scale, and drawn all the same


@pytest.mark.parametrize(("clock", "right", "down"), [("12", 0, -1), ("3", 1, 0), ("6", 0, 1), ("9", -1, 0)])
def test_a_tunnel_lies_at_its_hour_and_is_as_long_as_it_is_deep(clock: str, right: int, down: int) -> None:
    root = drawn("4 cm", "4 cm", None, [{"clock": clock, "depth": "2 cm", "end_felt": "no"}])
    wound, tunnel = ellipse(root), root.find("s:line[@stroke-dasharray='7 4']", NS)
    assert tunnel is not None
    x1, y1, x2, y2 = (float(tunnel.get(key, "0")) for key in ("x1", "y1", "x2", "y2"))
    assert math.isclose(math.hypot(x2 - x1, y2 - y1), wound["rx"], rel_tol=0.001)
    assert abs(x1 - wound["cx"] - right * wound["rx"]) < 0.02 and abs(y1 - wound["cy"] - down * wound["ry"]) < 0.02
    assert "END NOT FELT" in str(root.findtext("s:desc", namespaces=NS))


def test_an_arc_runs_clockwise_between_its_hours_and_is_as_deep_as_charted() -> None:
    root = drawn("4 cm", "4 cm", [{"from": "12", "to": "3", "depth": "1 cm"}])
    wound = ellipse(root)
    for x, y in corners(root):
        across, up = x - wound["cx"], wound["cy"] - y
        assert across >= -0.02 and up >= -0.02, "12 to 3 is the quarter to the right of the head"
        reach = math.hypot(across, up) / wound["rx"]
        assert abs(reach - 1) < 0.001 or abs(reach - 1.5) < 0.001


def test_an_arc_from_an_hour_to_the_same_hour_goes_all_round() -> None:
    root = drawn("4 cm", "4 cm", [{"from": "5", "to": "5", "depth": "1 cm"}])
    wound = ellipse(root)
    turned = {round(math.degrees(math.atan2(y - wound["cy"], x - wound["cx"])) / 30) % 12 for x, y in corners(root)}
    assert turned == set(range(12))


def test_depth_is_drawn_square_to_the_edge_of_a_long_wound() -> None:
    """At 12 and at 3 the outer edge lies one depth beyond the tip and beyond the side alike."""
    root = drawn("10 cm", "2 cm", [{"from": "12", "to": "12", "depth": "1 cm"}])
    wound = ellipse(root)
    per_cm = wound["rx"]
    xs, ys = [x for x, _ in corners(root)], [y for _, y in corners(root)]
    assert math.isclose(max(xs) - wound["cx"], wound["rx"] + per_cm, rel_tol=0.001)
    assert math.isclose(wound["cy"] - min(ys), wound["ry"] + per_cm, rel_tol=0.001)


@pytest.mark.parametrize(
    ("length", "width", "words", "bar"),
    [
        (None, "3 cm", "Broken outline", True),
        ("3 cm", "about 2", "Broken outline", True),
        (None, None, "Not to scale", False),
        ("4.1", "3.0", "Not to scale", False),
        ("<1 cm", "0 cm", "Not to scale", False),
        ("999 cm", "4 cm2", "Not to scale", False),
    ],
)
def test_a_size_that_is_missing_is_reported_and_drawn_broken(length: Any, width: Any, words: str, bar: bool) -> None:
    root = drawn(length, width, [{"from": "1", "to": "3", "depth": "2 cm"}])
    outline = root.find("s:ellipse", NS)
    assert outline is not None and outline.get("stroke-dasharray")
    said = " ".join(str(text.text) for text in root.iterfind("s:text", NS))
    assert words in said
    assert (root.find("s:line[@stroke-width='2']", NS) is not None) == bar


def test_what_has_no_hour_or_no_depth_is_reported_and_not_drawn() -> None:
    root = drawn("4 cm", "3 cm", [{"from": "about 7", "depth": "2 cm"}, {"depth": "1 cm"}], [{"clock": "8"}])
    said = " ".join(str(text.text) for text in root.iterfind("s:text", NS))
    assert said.count("Not drawn:") == 3
    assert root.find("s:path[@fill='url(#hatch)']", NS) is None
    assert root.find("s:line[@stroke-dasharray='7 4']", NS) is None


def test_an_end_that_is_not_felt_is_marked() -> None:
    felt = drawn("4 cm", "3 cm", None, [{"clock": "8", "depth": "1 cm", "end_felt": "yes"}])
    other = drawn("4 cm", "3 cm", None, [{"clock": "8", "depth": "1 cm"}])
    marks = [["?" in str(text.text) for text in root.iterfind("s:text", NS)].count(True) for root in (felt, other)]
    assert marks == [0, 2]


def test_none_is_not_the_same_as_not_written() -> None:
    assert clock_words("4 cm", "3 cm", "none", "none")[1:] == ["Undermining: none.", "Tunnels: none."]
    assert clock_words("4 cm", "3 cm")[1:] == []


def test_colour_is_never_what_tells_and_the_bytes_are_the_same() -> None:
    answers = ("4 cm", "3 cm", [{"from": "2", "to": "6", "depth": "3 cm"}], [{"clock": "4", "depth": "2 cm"}])
    content = clock_face(*answers, spellings={})
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', content.decode())) <= {"#000", "#fff", "none", "url(#hatch)"}
    assert content == clock_face(*answers, spellings={})


def test_spellings_of_units_are_those_given_or_the_catalogue_s() -> None:
    assert b"no size to draw" in clock_face("4 centimetres", "3 centimetres", spellings={})
    assert b"no size to draw" not in clock_face("4 centimetres", "3 centimetres")


@given(
    answer(catalogue().concept("assessment.length")),
    answer(catalogue().concept("assessment.width")),
    answer(catalogue().concept("assessment.undermining")),
    answer(catalogue().concept("assessment.tunnels")),
)
def test_any_answer_can_be_drawn_and_described(length: Any, width: Any, undermining: Any, tunnels: Any) -> None:
    root = etree.fromstring(clock_face(length, width, undermining, tunnels))
    assert root.findtext("s:desc", namespaces=NS)
    assert clock_words(length, width, undermining, tunnels)
