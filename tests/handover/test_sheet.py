"""The printed sheet: what stands on it, how it is built, and that it says what the document says.

Outside checks: HTML and XML parsers of lxml; text of the PDF through pypdf; page count through pypdf; the facts
of the FHIR document read out of its resources by their LOINC codes, without the toolkit.
"""

from __future__ import annotations

import re
import sys
from itertools import pairwise
from typing import Any

import pytest
from lxml import etree, html

from tests.handover.sheets import ALLOWED, XHTML, expected, part, text_of, words
from woundfhir.chart import counting
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.handover import bundle
from woundfhir.handover.sheet.cautions import cautions
from woundfhir.handover.sheet.page import sheet_html, sheet_pdf
from woundfhir.handover.sheet.parts import joined
from woundfhir.handover.summary.client import Summary, summary
from woundfhir.handover.summary.questions import questions
from woundfhir.handover.summary.words import Fact, long
from woundfhir.intake.source import parse
from woundfhir.r4.narrative import element
from woundfhir.record import History
from woundfhir.record.canonical import as_json


@pytest.fixture(scope="module")
def history() -> History:
    return parse(story(), "story").history


@pytest.fixture(scope="module")
def page(history: History) -> bytes:
    return sheet_html(history)


@pytest.fixture(scope="module")
def summed(history: History) -> Summary:
    return summary(history)


# -- how it is built -------------------------------------------------------------------------


def test_it_is_well_formed_self_contained_and_has_a_language(page: bytes) -> None:
    tree = etree.fromstring(page)
    assert tree.get("lang") == "en"
    names = {etree.QName(found).localname for found in tree.iter(f"{XHTML}*")}
    assert names <= ALLOWED
    # etree sees only names: an attribute that loads or runs something would stand here.
    attributes = {str(key) for found in tree.iter(etree.Element) for key in found.attrib}
    assert not [key for key in attributes if key.startswith("on") or key.endswith(("href", "src"))]
    assert not re.search(rb"@import|url\((?!#|data:font/woff2;base64,)", page)
    assert len(page) < 120_000
    # An HTML parser takes the style sheet as it stands: it must hold nothing that was escaped.
    assert "&" not in page.decode().split("<style>")[1].split("</style>")[0]
    assert html.document_fromstring(page).xpath("count(//table)") == len(tree.findall(f".//{XHTML}table"))


def test_headings_scopes_and_ids(page: bytes) -> None:
    tree = etree.fromstring(page)
    levels = [int(str(found.tag)[-1]) for found in tree.iter(*(f"{XHTML}h{n}" for n in (1, 2, 3)))]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert {found.get("scope") for found in tree.iter(f"{XHTML}th")} == {"col", "row", "rowgroup"}
    ids = [found.get("id") for found in tree.iter(etree.Element) if found.get("id")]
    assert len(ids) == len(set(ids))


def test_no_name_in_the_title(page: bytes, history: History) -> None:
    head = part(page, "head")
    meta = [str(value) for found in head.iter(f"{XHTML}meta") for value in found.attrib.values()]
    assert history.patient["name"]["family"] not in " ".join([str(head.findtext(f"{XHTML}title")), *meta])


def test_the_language_of_the_sheet(history: History) -> None:
    page = sheet_html(history, language="fr-CA")
    assert etree.fromstring(page).get("lang") == "fr-CA"
    assert "Feuille de transfert" in words(page)


# -- what stands on it -----------------------------------------------------------------------


def test_the_first_page_answers_the_ten_questions(page: bytes, summed: Summary) -> None:
    first = words(page).split("W1: venous leg ulcer")
    # Once as the heading of the rows on the first page, once as the heading of its own pages.
    assert len(first) == 3
    text = first[0] + first[1]
    places = [text.index(f"{number}. ") for number in range(1, 11)]
    assert len(set(places)) == 10
    rows = part(page, "body").findall(f".//{XHTML}table[@class='wounds']/{XHTML}tbody")
    for wound, row in zip(summed.open_wounds, rows, strict=True):
        assert wound.size and wound.since_first and wound.next_change
        for fact in (long(wound.next_change.text), wound.packing.count, wound.size.text, wound.since_first.dated):
            assert fact.lower() in text_of(row).lower()
    for found in (summed.allergies[0].text, summed.contacts[0].text, "16", summed.attention[0].hazard.ask):
        assert found in text
    assert all(gap in text for question in questions(summed) for gap in question.missing)


def test_the_sheet_tells_every_fact_of_the_summary(page: bytes, summed: Summary) -> None:
    text = words(page)
    for fact in expected(summed):
        assert " ".join(fact.split()) in text


def test_the_steps_stand_in_order_of_application(page: bytes, summed: Summary) -> None:
    lists = etree.fromstring(page).findall(f".//{XHTML}ol")
    assert len(lists) == len(summed.open_wounds)
    for shown, wound in zip(lists, summed.open_wounds, strict=True):
        labels = [text_of(item[0]).rstrip(": ") for item in shown]
        assert wound.recipe is not None
        assert labels[1:] == [step.label for step in wound.recipe.steps]
        assert labels[0].startswith("Take off")


def test_what_is_not_written_is_reported_and_not_left_blank() -> None:
    text = words(sheet_html(History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}]})))
    for gap in ("name not written", "next change not written", "dressing not written", "who to call: not written"):
        assert gap in text
    assert "none known" not in text


@pytest.mark.parametrize("status", ["draft", "entered in error"])
def test_a_note_that_does_not_count_is_not_on_the_sheet(history: History, status: str, page: bytes) -> None:
    size, plan = {"length": "9.9 cm", "width": "9.9 cm"}, {"next_change": "2026-05-05"}
    entry = {"wound": "W1", "assessment": size, "plan": plan}
    at = "2026-04-06T10:00:00-04:00"
    visit = {"id": "late", "at": at, "status": status, "note": "marmalade", "wounds": [entry]}
    text = words(sheet_html(History({**history.data, "visits": [*history.visits, visit]})))
    assert not re.search(r"marmalade|9\.9 cm|2026-05-05", text)
    assert text.replace("Not used: 1 draft, replaced or mistaken note(s).", "").split() == words(page).split()


def test_a_closed_wound_has_no_pages_of_its_own(history: History) -> None:
    leg, sacrum = history.wounds
    leg = {**leg, "status": "closed", "closed": "2026-04-05"}
    page = sheet_html(History({**history.data, "wounds": [leg, sacrum]}))
    assert len(etree.fromstring(page).findall(f".//{XHTML}section[@class='wound']")) == 1
    assert "closed: 2026-04-05: venous leg ulcer" in words(page)


def test_older_facts_stand_with_their_day() -> None:
    facts = [Fact("a", "1", "2026-03-01"), Fact("b", "2", "2026-03-01"), Fact("c", "3", "2026-03-05"), Fact("d", "4")]
    shown = element(
        "p", *joined([*facts, Fact("e", "5", "2026-03-01", "W1"), Fact("f", "6", None, "W1")], "2026-03-05")
    )
    assert text_of(shown) == "[2026-03-01: a: 1. b: 2]. c: 3. d: 4. W1 [2026-03-01: e: 5]; f: 6."


def test_a_caution_is_a_question_with_its_source(history: History) -> None:
    def packed(at: str, **pieces: str) -> dict[str, Any]:
        packing = [{"material": "gauze strip", "location": "tunnel at 4", **pieces}]
        return {"id": at, "at": f"{at}T10:00:00-04:00", "wounds": [{"wound": "W1", "care": {"packing": packing}}]}

    visits = [packed("2026-03-18", pieces_in="2"), packed("2026-03-19", pieces_out="1", pieces_in="1")]
    one = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": visits})
    asked = words(sheet_html(one)).split("Questions of caution (local policy and your own judgement come first)")[1:]
    assert asked
    assert re.search(r"is one still in the wound\? \(2026-03-19\) \[PK02: .*Wound Packing", asked[-1])
    found = cautions(counting(history), "ontario")
    assert all("?" in caution.text and caution.source for wound in found.values() for caution in wound)


# -- the same facts as the FHIR document -------------------------------------------------------


def resources(document: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [entry["resource"] for entry in document["entry"] if entry["resource"]["resourceType"] == kind]


def has(resource: dict[str, Any], code: str) -> bool:
    return any(coding.get("code") == code for coding in resource.get("code", {}).get("coding", ()))


def newest_sizes(document: dict[str, Any]) -> dict[str, tuple[str, str]]:
    """Wound -> day and size of the newest panel (LOINC 72287-6; length 39126-8, width 39125-0, depth 39127-6)."""
    found: dict[str, tuple[str, str]] = {}
    for panel in resources(document, "Observation"):
        if has(panel, "72287-6"):
            codes = ("39126-8", "39125-0", "39127-6")
            part = {code: c["valueQuantity"] for c in panel["component"] for code in codes if has(c, code)}
            length, width, depth = (f"{part[code]['value']} {part[code]['unit']}" for code in codes)
            wound, at = panel["focus"][0]["reference"], panel["effectiveDateTime"]
            found[wound] = max(found.get(wound, ("", "")), (at, f"{length} x {width}, depth {depth}"))
    return found


def test_sizes_and_next_change_equal_those_of_the_document(history: History, page: bytes, summed: Summary) -> None:
    document = bundle(history)
    text = words(page)
    sizes = newest_sizes(document)
    assert len(sizes) == 2
    for at, size in sizes.values():
        assert size in text and at[:10] in text
    newest = max(plan["created"] for plan in resources(document, "CarePlan"))
    plans = [plan for plan in resources(document, "CarePlan") if plan["created"] == newest]
    timings = [activity["detail"]["scheduledTiming"] for plan in plans for activity in plan["activity"]]
    due = {day for timing in timings for day in timing.get("event", ())}
    assert {wound.next_change.text for wound in summed.open_wounds if wound.next_change} <= due
    assert all(day in text for day in due)


def test_packing_of_the_sheet_is_that_of_the_document(history: History, page: bytes, summed: Summary) -> None:
    composition = resources(bundle(history), "Composition")[0]
    section = next(part for part in composition["section"] if part["title"] == "Packing in place")
    said = text_of(etree.fromstring(section["text"]["div"]))
    for wound in summed.open_wounds:
        assert wound.packing.count in said
        assert wound.packing.count in words(page)


def test_the_sheet_of_what_was_received_is_the_sheet_of_what_was_sent(history: History, page: bytes) -> None:
    received = parse(as_json(bundle(history)).encode(), "sent").history
    assert sheet_html(received) == page


def test_without_weasyprint_there_is_one_clear_message(history: History, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(InputError, match=r"pip install 'woundfhir\[pdf\]'"):
        sheet_pdf(history)
