"""What may stand in an R4 narrative, held against HL7's own validation engine."""

from __future__ import annotations

from base64 import b64encode
from typing import Any

import pytest
from lxml import etree

from tests.conformance.conftest import plain
from woundfhir.drawing import clock_face, clock_words, trend_rows
from woundfhir.measures import Measured, trend
from woundfhir.r4.narrative import element, table

pytestmark = pytest.mark.engine

COURSE = trend([Measured("2026-03-02", "4.0 cm", "3.0 cm"), Measured("2026-03-09", "3.0 cm", "3.0 cm")])
FACE = clock_face("4 cm", "3 cm", [{"from": "2", "to": "6", "depth": "3 cm"}], "none", spellings={})
SENTENCES = clock_words("4 cm", "3 cm", [{"from": "2", "to": "6", "depth": "3 cm"}], "none")
PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 40


def rules(*content: Any) -> set[str]:
    """The identifiers of what the engine finds in a narrative of this content."""
    div = etree.tostring(element("div", *content), encoding="unicode")
    made = {"resourceType": "Basic", "code": {"text": "drawing"}, "text": {"status": "generated", "div": div}}
    return {issue.message_id.rsplit("#")[-1] for issue in plain().validate([made]) if issue.severity == "error"}


def test_the_table_and_the_sentences_may_stand_in_a_narrative() -> None:
    assert rules(table(*trend_rows(COURSE)), *[element("p", line) for line in SENTENCES]) == set()


@pytest.mark.parametrize(
    "uri", [f"data:image/{kind};base64,{b64encode(made).decode()}" for kind, made in (("png", PNG), ("svg+xml", FACE))]
)
def test_an_image_with_its_data_may_stand_in_a_narrative(uri: str) -> None:
    """txt-1 does not tell the kinds apart: that this toolkit refuses SVG there is its own caution."""
    assert rules(element("p", "W1"), element("img", src=uri, alt=" ".join(SENTENCES))) == set()


def test_an_svg_element_may_not() -> None:
    assert "txt-1" in rules(element("p", "W1"), etree.fromstring(FACE))
