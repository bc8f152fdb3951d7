"""A wound that had closed and is open again: what was charted before is no present fact of it.

Common practice, no source: a finding is about the wound as it was seen; a wound that opens again is assessed anew.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from lxml import etree

from woundfhir.handover import bundle
from woundfhir.handover.numbers import numbers_of, numbers_rows
from woundfhir.handover.sheet.page import sheet_html
from woundfhir.handover.summary.client import summary
from woundfhir.record import History

Json = Any
XHTML = "{http://www.w3.org/1999/xhtml}"
OLD = {
    "length": "4.0 cm",
    "width": "3.0 cm",
    "undermining": [{"from": "2", "to": "6", "depth": "1.7 cm"}],
    "tunnels": [{"clock": "9", "depth": "2.9 cm"}],
    "exposed": ["bone"],
    "red_flags": ["foot suddenly white"],
    "infection_signs": ["size increasing", "new breakdown"],
    "limb_pressure": [{"side": "left", "index": "0.98", "date": "2025-12-30"}],
}
PACKED = {"packing": [{"material": "gauze strip", "location": "tunnel at 9", "pieces_in": "2"}]}


def seen(at: str, **entry: Json) -> Json:
    return {"id": at, "at": f"{at}T10:00:00-05:00", "wounds": [{"wound": "W1", **entry}]}


def record(*visits: Json, **wound: Json) -> History:
    wounds = [{"id": "W1", "kind": "venous leg ulcer", "onset": "2025-12-01", **wound}]
    return History.of(
        {"woundfhir": 1, "patient": {"allergies": [{"to": "silver"}]}, "wounds": wounds, "visits": list(visits)}
    )


def again(**assessment: Json) -> History:
    return record(
        seen("2026-01-05", assessment=OLD, care=PACKED),
        seen("2026-02-02", assessment={"healing_trend": "resolved"}),
        seen("2026-04-01", assessment={"length": "1.0 cm", "width": "1.0 cm", **assessment}),
    )


def words(tree: etree._Element) -> str:
    return " ".join("".join(str(text) for text in tree.itertext()).split())


def sheet(history: History) -> str:
    main = etree.fromstring(sheet_html(history)).find(f".//{XHTML}main")
    assert main is not None
    for drawing in list(main.iter("{http://www.w3.org/2000/svg}svg")):
        drawing.clear()
    return words(main)


def test_findings_from_before_stand_with_their_day_in_one_place_and_nowhere_else() -> None:
    now, _, before = sheet(again()).partition("Before it re-opened. ")
    assert before
    for finding in ("1.7 cm", "2.9 cm", "bone", "foot suddenly white", "2 pieces"):
        assert finding not in now
        assert re.search(rf"\[2026-01-05: [^\]]*{finding}", before), finding
    assert "not known: no packing written" in now


def test_what_is_about_the_limb_or_the_client_holds_on() -> None:
    now = sheet(again()).partition("Before it re-opened. ")[0]
    assert "0.98" in now and "2025-12-30" in now and "silver" in now


def test_nothing_from_before_calls_for_attention() -> None:
    assert summary(again()).attention == ()
    assert [alert.hazard.key for alert in summary(again(exposed=["tendon"])).attention] == ["exposed"]


def test_an_answer_since_takes_the_place_of_the_older_one() -> None:
    found = summary(again(tunnels="none", undermining="none")).wounds[0]
    assert not {"assessment.tunnels", "assessment.undermining"} & {fact.path for fact in found.before}
    assert found.no_deep_space


def test_the_document_says_the_same() -> None:
    made = bundle(again())
    sections = {part["title"]: part["text"]["div"] for part in made["entry"][0]["resource"]["section"]}
    course = words(etree.fromstring(sections["Course and measurements"]))
    assert "Before it re-opened: Undermining: from 2 to 6 o'clock, 1.7 cm deep (2026-01-05)" in course
    assert not re.search(r"(?<!re-opened: )Undermining: from 2", course)
    assert "2 pieces" not in words(etree.fromstring(sections["Packing in place"]))


def test_a_wound_found_open_after_the_day_on_which_it_closed_is_an_open_wound() -> None:
    visits = again().visits
    assert not summary(record(*visits, closed="2026-02-02")).wounds[0].closed_now
    assert summary(record(*visits[:2], closed="2026-02-02")).wounds[0].closed_now
    assert summary(record(*visits, status="closed", closed="2026-05-01")).wounds[0].closed_now


def test_days_are_counted_from_the_note_that_found_it_open_again() -> None:
    later = seen("2026-04-11", assessment={"length": "1.0 cm", "width": "0.9 cm"})
    found = record(*again().visits, later)
    assert ("open again", "10 days") in numbers_rows(numbers_of(summary(found).view, "W1"))
    assert "Open again: 10 days" in sheet(found)


def test_a_wound_that_never_closed_has_no_before() -> None:
    first, _, _ = again().visits
    found = record(first, seen("2026-01-12", assessment={"length": "3.0 cm", "width": "3.0 cm"}))
    assert summary(found).wounds[0].before == ()
    assert "1.7 cm" in sheet(found) and "Before it re-opened" not in sheet(found)
    # 2025-12-01 to 2026-01-12: 30 days of December after the first, and 12. The bone in the bed is the third sign.
    assert "Open: 42 days" in sheet(found) and "3 of 7 deep signs (2026-01-05)" in sheet(found)


@pytest.mark.parametrize("word", ["none", "None", "nil", "Nil", "no", "none seen", "nothing visible"])
@pytest.mark.parametrize("key", ["exposed", "red_flags"])
def test_words_for_nothing_raise_no_alert(key: str, word: str) -> None:
    assert summary(record(seen("2026-01-05", assessment={key: [word]}))).attention == ()


def test_packing_that_does_not_add_up_is_asked_about_once() -> None:
    """The alert on the first page names the note and the gap; the caution PK03 would ask the same again."""
    found = record(seen("2026-01-05", care=PACKED), seen("2026-01-08", care={"packing": [{"pieces_in": "1"}]}))
    text = sheet(found)
    assert text.count("pieces taken out not written") >= 1 and "how many pieces came out?" not in text
    # Fewer came out than went in, and the count is certain: no alert, so that the caution is asked.
    fewer = {"packing": [{"material": "gauze strip", "pieces_in": "1", "pieces_out": "1"}]}
    assert "Fewer pieces of packing" in sheet(record(seen("2026-01-05", care=PACKED), seen("2026-01-08", care=fewer)))


def test_a_packing_caution_from_before_is_not_asked_again() -> None:
    fewer = {"packing": [{"material": "gauze strip", "pieces_in": "1", "pieces_out": "1"}]}
    first, second = seen("2026-01-05", assessment=OLD, care=PACKED), seen("2026-01-08", care=fewer)
    assert "Fewer pieces of packing" in sheet(record(first, second))
    assert "Fewer pieces of packing" not in sheet(record(first, second, *again().visits[1:]))
