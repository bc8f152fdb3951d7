"""What the page makes of records: a new client, what another team sent, a text that was read, sizes as typed."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.page.conftest import browser_of, page_on
from tests.page.test_screens import CLIENT, NOTE, draft_of, record, seen, start
from woundfhir.chart import open_record
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.intake.source import named, parse
from woundfhir.page.state import Page
from woundfhir.page.texts import number


def test_a_new_client_with_a_wound_is_a_record(nurse: TestClient, folder: Path) -> None:
    found = nurse.post(
        "/new",
        data={
            "family": "Example-Birch",
            "given": "Tom",
            "born": "1950",
            "number": "77",
            "wound.kind": "skin tear",
            "wound.site+": "forearm",
        },
    )
    assert found.status_code == 200 and "Example-Birch" in found.text
    made = parse((folder / "client-0001" / "record.yaml").read_bytes(), "record").history
    assert made.patient["identifiers"] == [{"value": "77"}]  # who gives it was not said, and is not made up
    assert made.wounds[0]["kind"] == "skin tear" and made.wounds[0]["site"] == "forearm"


NEW = {"family": "Example-Birch", "born": "1950", "number": "77", "wound.kind": "skin tear"}


def test_a_form_that_is_sent_twice_is_done_once(nurse: TestClient, folder: Path) -> None:
    """A button touched twice, or the way back and the button again: no second client, wound, note or amendment."""
    before = len(record(folder).wounds)
    for path, sent in (("/new", NEW), (f"{CLIENT}/wound", {"wound.kind": "skin tear"})):
        number = re.search(r'name="form" value="([^"]+)"', nurse.get(path).text)
        assert number is not None
        shown = [nurse.post(path, data={**sent, "form": number[1]}) for _ in range(2)]
        assert shown[0].url == shown[1].url and shown[0].status_code == 200
    assert len(list(folder.glob("*/record.yaml"))) == 1 and len(record(folder).wounds) == before + 1
    at = seen(start(nurse))
    assert seen(start(nurse)) >= at and len(list(folder.rglob("d*.draft"))) <= 1
    signed = [nurse.post(f"{NOTE}/sign", data={"seen": at, "sure": "1"}) for _ in range(2)]
    assert signed[0].url == signed[1].url and len(record(folder).visits) == 9
    amend = [nurse.post(f"{CLIENT}/v/V9/amend") for _ in range(2)]
    assert amend[0].url == amend[1].url
    assert nurse.post(f"{amend[0].url.path}/sign", data={"reason": "a slip", "sure": "1"}).status_code == 200
    again = nurse.post(f"{CLIENT}/v/V9/amend")
    assert again.status_code == 400 and "it was amended already" in again.text
    assert [visit.get("replaces") for visit in record(folder).visits[8:]] == [None, "V9"]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"born": "31/02/1950"}, "the birth date: expected a date"),
        ({"born": "1950-02-30"}, "the birth date: expected a date"),
        ({"number": "c0417"}, "the number: a client of this folder has it already"),
        ({"family": ""}, "the name: expected"),
        ({"wound.kind": ""}, "the wound: expected its kind"),
    ],
)
def test_a_new_client_that_cannot_be_is_one_message(
    nurse: TestClient, folder: Path, more: dict[str, str], said: str
) -> None:
    found = nurse.post("/new", data={**NEW, **more})
    assert found.status_code == 400 and said in found.text and not list(folder.glob("*/record.yaml"))
    for written in ({**NEW, **more}).values():  # what she wrote is still there
        assert not written or f'value="{written}"' in found.text


def test_a_client_is_taken_in_by_another_folder(nurse: TestClient, tmp_path_factory: pytest.TempPathFactory) -> None:
    document = nurse.get(f"{CLIENT}/document").content
    there = tmp_path_factory.mktemp("there")
    other = browser_of(page_on(there))
    looked = other.post("/take-in", files={"file": ("history.json", document)}, data={"client": ""})
    assert looked.status_code == 200 and "What came" in looked.text and not list(there.rglob("record.yaml"))
    token = re.search(r'name="token" value="([^"]+)"', looked.text)
    assert token is not None
    taken = [other.post("/take-in/take", data={"token": token[1]}) for _ in range(2)]
    assert taken[0].url == taken[1].url and taken[1].status_code == 200
    again = other.post("/take-in", files={"file": ("history.json", document)}, data={"client": ""})
    assert again.status_code == 400 and "its client is in this folder already" in again.text
    came = parse((there / "client-0001" / "record.yaml").read_bytes(), "record").history
    assert [visit["id"] for visit in came.visits] == [f"V{n}" for n in range(1, 9)]
    assert (there / "client-0001" / "received" / "order.json").exists()


def test_what_the_page_keeps_is_read_by_no_other_verb(nurse: TestClient, folder: Path) -> None:
    document = nurse.get(f"{CLIENT}/document").content
    nurse.post(f"{NOTE}/sign", data={"seen": seen(start(nurse)), "sure": "1"})
    start(nurse)
    looked = nurse.post("/take-in", files={"file": ("history.json", document)}, data={"client": "ida.yaml"})
    token = re.search(r'name="token" value="([^"]+)"', looked.text)
    assert token is not None
    assert nurse.post("/take-in/take", data={"token": token[1]}).status_code == 200
    assert len(record(folder).visits) == 9
    assert list((folder / ".woundfhir-page").rglob("*.came"))
    assert list(named([str(folder)])) == [str(folder / "ida.yaml")]


def test_a_pasted_text_is_taken_reading_by_reading(nurse: TestClient, page: Page) -> None:
    start(nurse)
    words = "4.1 x 3 x 0.4 cm, no odour, edges rolled"
    text = nurse.post(f"{NOTE}/read", data={"text": words}).text
    assert "checked" not in text[text.index('name="reading"') :]
    number = re.search(r'value="(\d+)"><span class="box"><strong>Odour', text)
    assert number is not None
    nurse.post(f"{NOTE}/read/take", data={"text": words, "reading": number[1]})
    flat = draft_of(page)
    assert flat["assessment.odour"] == ["none"] and "assessment.length" not in flat


def test_area_change_and_clock_face_are_there_as_she_types(nurse: TestClient, folder: Path) -> None:
    start(nurse, purpose="full assessment")
    part = {"X-Part": "1"}
    fields = {"assessment.length": "3,1", "assessment.width": "2.5", "assessment.undermining[0].from": "2"}
    answer = nurse.post(NOTE, data={"seen": "0", "step": "look", "_n": list(fields), **fields}, headers=part).json()
    area, drawn = answer["places"]["area"], answer["places"]["drawn"]
    assert "7.75\u00a0cm²" in area and "% larger" in area and "<svg" in drawn and "style=" not in drawn
    assert area.strip() in nurse.get(NOTE).text and drawn in nurse.get(NOTE).text
    # What it says is what the record says once the note is signed.
    nurse.post(f"{NOTE}/sign", data={"seen": seen(nurse.get(NOTE).text), "sure": "1"})
    view = open_record(record(folder)).wound("W2")
    change = WoundSummary(view).since_last
    assert change is not None and number(change.dated) in unescape(re.sub("<[^>]+>", "", area))
    # No size, no number; and no picture of nothing.
    start(nurse, purpose="full assessment")
    answer = nurse.post(NOTE, data={"seen": "0", "step": "look"}, headers=part).json()
    assert [one.strip() for one in answer["places"].values()] == ["", ""]
