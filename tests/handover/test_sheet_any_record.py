"""Whatever a record holds, its sheet is one that can be read: hostile words, long ones, any record.

Outside checks: an HTML parser sees the same elements as an XML parser; pages of the PDF through pypdf.
"""

from __future__ import annotations

import io
import re
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from lxml import etree, html

from tests.handover.sheets import ALLOWED, XHTML
from tests.strategies import records
from woundfhir.demo import story
from woundfhir.handover.sheet.page import sheet_html, sheet_pdf
from woundfhir.intake.source import parse
from woundfhir.record import History


@pytest.fixture(scope="module")
def history() -> History:
    return parse(story(), "story").history


HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(1)>\"' style='&lt;"


def hostile(value: Any) -> Any:
    """The same record with hostile words in every text that is not an id, a time or a status."""
    if isinstance(value, dict):
        keep = ("id", "at", "written", "wound", "status", "replaces")
        return {key: found if key in keep else hostile(found) for key, found in value.items()}
    if isinstance(value, list):
        return [hostile(item) for item in value]
    return HOSTILE if isinstance(value, str) else value


def test_hostile_words_stay_words(history: History) -> None:
    page = sheet_html(History(hostile(history.data)))
    tree = html.document_fromstring(page)
    assert not tree.xpath("//script | //img | //*[@onerror]")
    assert b"&lt;script&gt;alert(1)" in page and b"<script" not in page


@settings(max_examples=50)
@given(records(most_visits=3))
def test_any_record_has_a_sheet(raw: dict[str, Any]) -> None:
    page = sheet_html(History.of(raw))
    tree = etree.fromstring(page)
    assert {etree.QName(found).localname for found in tree.iter(f"{XHTML}*")} <= ALLOWED
    # What the record says stands as text: an HTML parser sees the same elements as an XML parser.
    shown = [found for found in html.document_fromstring(page).iter(etree.Element) if isinstance(found.tag, str)]
    assert len(shown) == len(list(tree.iter(etree.Element)))


LONG = "the wound was seen by the team and looked much as it did before " * 30
KEPT = ("id", "at", "written", "wound", "status", "replaces", "length", "width", "measure_method", "measure_axis")


def longer(value: Any) -> Any:
    """The same record with two thousand characters in every answer but the sizes."""
    if isinstance(value, dict):
        return {key: found if key in KEPT else longer(found) for key, found in value.items()}
    if isinstance(value, list):
        return [longer(item) for item in value]
    return LONG if isinstance(value, str) else value


def test_long_words_are_cut_with_a_mark_and_three_pages_a_wound_are_kept(history: History) -> None:
    pypdf = pytest.importorskip("pypdf")
    pytest.importorskip("weasyprint")
    pages = pypdf.PdfReader(io.BytesIO(sheet_pdf(History(longer(history.data))))).pages
    starts = [number for number, page in enumerate(pages) if re.match(r"W\d: ", page.extract_text())]
    assert len(starts) == 2
    client = next(number for number, page in enumerate(pages) if "\nThe client\n" in page.extract_text())
    assert [after - before for before, after in pairwise([*starts, client + 1])] <= [3, 3]
    assert len(pages) <= client + 2
    assert "[more in the record]" in pages[0].extract_text()
