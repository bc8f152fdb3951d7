"""Every screen, and a whole visit by forms alone: no script is needed."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.page.conftest import browser_of, page_on
from woundfhir.checklist import judge
from woundfhir.checklist.one_note import of_note
from woundfhir.intake.source import parse
from woundfhir.page.draft import SUFFIX, read
from woundfhir.page.screens import charting
from woundfhir.page.state import Page
from woundfhir.record import History

CLIENT = "/c/ida.yaml"
NOTE = f"{CLIENT}/d/d1/1"
SCREENS = (
    "/",
    "/who",
    "/new",
    "/audit",
    "/take-in",
    CLIENT,
    f"{CLIENT}/wound",
    f"{CLIENT}/hand-over",
    f"{CLIENT}/course/0",
    f"{CLIENT}/course/1",
)


def start(browser: TestClient, wound: int = 1, purpose: str = "dressing change") -> str:
    found = browser.post(f"{CLIENT}/start", data={"wound": str(wound), "purpose": purpose})
    assert found.status_code == 200
    return found.text


def seen(text: str) -> str:
    found = re.search(r'name="seen" value="(\d+)"', text)
    assert found is not None
    return found[1]


def touch(browser: TestClient, do: str = "", **fields: str | list[str]) -> str:
    """Send the form as a browser without a script does, with one button."""
    data: dict[str, str | list[str]] = {"seen": seen(browser.get(NOTE).text), "do": do, "_n": list(fields), **fields}
    found = browser.post(NOTE, data=data)
    assert found.status_code == 200, unescape(found.text)
    return found.text


def record(folder: Path) -> History:
    return parse((folder / "ida.yaml").read_bytes(), "ida.yaml").history


def draft_of(page: Page) -> dict[str, list[str]]:
    client = page.folder.client("ida.yaml")
    return read(client.drafts / f"d1{SUFFIX}").of("W2")


@pytest.mark.parametrize("path", SCREENS)
def test_every_screen_answers_and_is_small(browser: TestClient, path: str) -> None:
    found = browser.get(path)
    assert found.status_code == 200
    assert len(found.content) < 100_000


def test_the_first_page_with_all_that_it_loads_is_small(browser: TestClient) -> None:
    names = ("page.css", "page.js", "regular.woff2", "bold.woff2")
    whole = len(browser.get("/").content) + sum(len(browser.get(f"/assets/{name}").content) for name in names)
    assert whole < 150_000


def test_the_list_says_what_is_due_and_what_calls_for_attention(browser: TestClient) -> None:
    text = browser.get("/").text
    assert text.index("Tue 2026-04-07") < text.index("Sun 2026-04-12")
    assert "Packing may be left inside" in text and "58 % smaller" in text


def test_a_record_that_cannot_be_read_is_named_and_hides_no_other(page: Page, folder: Path) -> None:
    (folder / "a.yaml").write_text("woundfhir: 1\npatient: [")
    text = browser_of(page).get("/").text
    assert "This record cannot be read" in text and "Example-Rowan" in text


def test_the_list_is_the_same_whether_it_was_kept_or_worked_out(page: Page, folder: Path) -> None:
    first = browser_of(page).get("/").text
    assert (folder / ".woundfhir-page" / "rows-en").exists()
    again = page_on(folder)
    assert browser_of(again).get("/").text == first
    assert again.folder.client("ida.yaml")._read is None  # the record itself was not read


def test_a_changed_record_is_read_again(page: Page, folder: Path) -> None:
    assert "Example-Rowan" in browser_of(page).get("/").text
    path = folder / "ida.yaml"
    path.write_text(path.read_text("utf-8").replace("Example-Rowan", "Example-Alder"), "utf-8")
    assert "Example-Alder" in browser_of(page_on(folder)).get("/").text
    (folder / ".woundfhir-page" / "rows-en").write_text("no JSON")
    assert "Example-Alder" in browser_of(page_on(folder)).get("/").text


def test_a_visit_by_forms_alone(nurse: TestClient, page: Page, folder: Path) -> None:
    first = start(nurse)
    assert "Last time (V8, Sun 2026-04-05, 10:10)" in first
    touch(nurse, "all:")
    touch(nurse, "", **{"care.removed.condition": "intact", "care.packing[0].pieces_out": "0"})
    for group in ("bed", "fluid", "skin", "next", "aims"):
        touch(nurse, f"same:{group}")
    last = touch(
        nurse,
        "",
        **{
            "assessment.infection_signs": "none",
            "assessment.pain_at_rest": "2",
            "assessment.pain_at_change": "4",
            "care.packing[0].pieces_in": "0",
            "care.response.tolerated": "well",
            "care.response.pain_after": "2",
            "care.response.stinging": "none",
        },
    )
    assert "Complete" in last
    nurse.post(f"{NOTE}/sign", data={"seen": seen(last)})
    after = record(folder)
    made = after.visits[-1]
    assert made["id"] == "V9" and made["status"] == "final" and made["at"] == "2026-04-07T09:30:00-04:00"
    assert made["by"] == {"id": "rn-204", "name": "Nurse One (invented)", "designation": "RN"}
    assert made["wounds"][0]["care"]["cleansing"]["volume"] == "500 mL"
    assert made["wounds"][0]["plan"]["next_change"] == "2026-04-09"
    assert not of_note(judge(after), after, "V9").findings
    assert after.visits[:-1] == parse(page_story(), "story").history.visits
    assert list(page.folder.client("ida.yaml").drafts.glob(f"*{SUFFIX}")) == []


def page_story() -> bytes:
    from woundfhir.demo import story

    return story()


def test_what_was_taken_over_is_marked_in_the_record(nurse: TestClient, folder: Path) -> None:
    start(nurse)
    touch(nurse, "same:cleansing")
    text = touch(nurse, "same:bed")
    nurse.post(f"{NOTE}/sign", data={"seen": seen(text), "sure": "1"})
    marks = record(folder).visits[-1]["wounds"][0]["assessment"]["carried"]
    assert marks == [
        {"answers": "assessment.edge, assessment.exposed, assessment.tissue, care.cleansing", "note_of": "V8"}
    ]


def test_what_is_edited_after_it_was_taken_over_is_not_marked(nurse: TestClient, folder: Path) -> None:
    start(nurse)
    touch(nurse, "same:cleansing")
    touch(nurse, "change:cleansing")
    text = touch(nurse, "", **{"care.cleansing.volume": "250"})
    nurse.post(f"{NOTE}/sign", data={"seen": seen(text), "sure": "1"})
    made = record(folder).visits[-1]["wounds"][0]
    assert made["care"]["cleansing"]["volume"] == "250 mL"
    (mark,) = made["assessment"]["carried"]
    assert "care.cleansing.solution" in mark["answers"] and "care.cleansing.volume" not in mark["answers"]


def test_what_is_seen_anew_leaves_the_mark(nurse: TestClient, folder: Path) -> None:
    start(nurse)
    touch(nurse, "all:")
    text = touch(nurse, "", **{"care.removed.condition": "leaking"})
    assert "care.removed" in draft_marks(text)
    nurse.post(f"{NOTE}/sign", data={"seen": seen(text), "sure": "1"})
    (mark,) = record(folder).visits[-1]["wounds"][0]["assessment"]["carried"]
    assert "care.removed" in mark["answers"].split(", ")


def draft_marks(text: str) -> str:
    """Which groups the screen shows as taken over."""
    return "care.removed" if 'class="part done" id="g-removed"' in text else ""


def test_same_never_takes_over_what_is_seen_anew(nurse: TestClient, page: Page) -> None:
    start(nurse, purpose="full assessment")
    touch(nurse, "all:")
    for group in ("removed", "bed", "fluid", "skin", "next", "aims"):
        touch(nurse, f"same:{group}")
    flat = draft_of(page)
    for name in flat:
        assert not name.startswith(("assessment.infection", "assessment.pain", "assessment.length", "care.packing"))
        assert not name.endswith((".pieces_in", ".pieces_out", "removed.pieces", ".left", ".lot"))
    assert "care.removed.condition" not in flat


def test_two_wounds_stand_in_one_note(nurse: TestClient, folder: Path) -> None:
    start(nurse)
    touch(nurse, "same:cleansing")
    other = nurse.get(f"{CLIENT}/d/d1/0").text
    assert "Last time (V8" in other and "multi-component system" in other
    nurse.post(f"{CLIENT}/d/d1/0", data={"seen": seen(other), "do": "same:compression"})
    nurse.post(f"{NOTE}/sign", data={"seen": seen(nurse.get(NOTE).text), "sure": "1"})
    entries = record(folder).visits[-1]["wounds"]
    assert [one["wound"] for one in entries] == ["W2", "W1"]
    compression = entries[1]["care"]["compression"]
    assert compression["layers"] == "2" and "circulation_checked" not in compression


def test_a_wound_that_was_only_looked_at_is_not_in_the_note(nurse: TestClient, folder: Path) -> None:
    start(nurse)
    assert "Last time (V8" in nurse.get(f"{CLIENT}/d/d1/0").text
    text = nurse.get(f"{CLIENT}/d/d1/0/lacks").text
    assert "Compression" not in text
    nurse.post(f"{NOTE}/sign", data={"seen": seen(nurse.get(NOTE).text), "sure": "1"})
    assert [one["wound"] for one in record(folder).visits[-1]["wounds"]] == ["W2"]


def test_what_is_missing_on_another_wound_leads_there(nurse: TestClient, page: Page) -> None:
    start(nurse)
    other = nurse.get(f"{CLIENT}/d/d1/0").text
    nurse.post(f"{CLIENT}/d/d1/0", data={"seen": seen(other), "do": "same:cleansing"})
    client = page.folder.client("ida.yaml")
    draft = read(client.drafts / f"d1{SUFFIX}")
    assert charting._targets(client, draft) == [1, 0]  # the note's first wound is the record's second
    text = nurse.get(f"{NOTE}/lacks").text
    assert f'href="{NOTE}?open=care.removed#f-care.removed"' in text


def test_refused_by_phone_and_not_looked_at(nurse: TestClient, page: Page) -> None:
    start(nurse)
    assert 'id="f-plan.refusal"' in touch(nurse, "refused:")
    touch(nurse, "", **{"assessment.odour": "none"})
    touch(nurse, "unseen:dressing left in place")
    flat = draft_of(page)
    assert flat["assessment.exudate_amount?"] == ["dressing left in place"]
    assert "assessment.odour?" not in flat  # it has an answer
    assert 'id="f-assessment.remote"' in touch(nurse, "phone:")
    assert draft_of(page)["assessment.remote.way"] == ["telephone"]


def test_nothing_is_signed_by_nobody(browser: TestClient, folder: Path) -> None:
    before = (folder / "ida.yaml").read_bytes()
    text = start(browser)
    found = browser.post(f"{NOTE}/sign", data={"seen": seen(text), "sure": "1"})
    assert "Who is writing?" in found.text and (folder / "ida.yaml").read_bytes() == before


def test_gaps_are_shown_before_a_note_is_signed(nurse: TestClient, folder: Path) -> None:
    before = (folder / "ida.yaml").read_bytes()
    text = nurse.post(f"{NOTE}/sign", data={"seen": seen(start(nurse))}).text
    assert "Before you sign" in text and text.count('class="plain"') <= 7
    assert (folder / "ida.yaml").read_bytes() == before


def test_a_hand_written_record_is_kept_as_it_was(nurse: TestClient, page: Page, folder: Path) -> None:
    before = (folder / "ida.yaml").read_bytes()
    nurse.post(f"{NOTE}/sign", data={"seen": seen(start(nurse)), "sure": "1"})
    kept = list((folder / ".woundfhir-page" / "before").glob("*.before"))
    assert [path.read_bytes() for path in kept] == [before]


def test_an_amendment_is_a_new_version_with_who_when_and_why(nurse: TestClient, folder: Path) -> None:
    nurse.post(f"{CLIENT}/v/V8/amend")
    touch(nurse, "", **{"assessment.pain_at_rest": "5"})
    at = seen(nurse.get(NOTE).text)
    assert "Why is the note amended?" in nurse.post(f"{NOTE}/sign", data={"seen": at, "sure": "1"}).text
    nurse.post(f"{NOTE}/sign", data={"seen": at, "sure": "1", "reason": "the number was written for the other wound"})
    visits = record(folder).visits
    old, new = visits[-2], visits[-1]
    assert (new["replaces"], new["status"]) == ("V8", "amended")
    assert new["replaces_reason"] == "the number was written for the other wound"
    assert new["written"] == "2026-04-07T09:30:00-04:00" and new["at"] == old["at"]
    assert new["by"]["name"] == "Nurse One (invented)"
    assert new["wounds"][1]["assessment"]["pain_at_rest"] == "5"
    assert old["wounds"][1]["assessment"]["pain_at_rest"] == "3"
    for mine, theirs in zip(new["wounds"], old["wounds"], strict=True):
        mine["assessment"].pop("pain_at_rest"), theirs["assessment"].pop("pain_at_rest")
        assert mine == theirs


def test_two_windows_see_both_answers(nurse: TestClient, page: Page) -> None:
    at = seen(start(nurse))
    one = nurse.post(NOTE, data={"seen": at, "_n": "assessment.odour", "assessment.odour": "faint"})
    assert one.status_code == 200
    two = nurse.post(NOTE, data={"seen": at, "_n": "assessment.odour", "assessment.odour": "offensive"}).text
    assert "Somebody else has changed this meanwhile" in two and "faint" in two and "offensive" in two
    assert draft_of(page)["assessment.odour"] == ["faint"]
    assert nurse.post(NOTE, data={"seen": at, "do": "keep:"}).status_code == 200
    assert draft_of(page)["assessment.odour"] == ["faint"]
    nurse.post(NOTE, data={"seen": at, "do": "take:assessment.odour=offensive"})
    assert draft_of(page)["assessment.odour"] == ["offensive"]


def test_a_killed_server_loses_nothing(nurse: TestClient, folder: Path, page: Page) -> None:
    start(nurse)
    touch(nurse, "", **{"assessment.length": "3,1", "note": "words that nobody else has"})
    again = browser_of(page_on(folder))
    text = again.get(f"{NOTE}?open=assessment.length").text
    assert 'value="3,1"' in text and "words that nobody else has" in text


HOSTILE = """"><script>alert(1)</script>{{ 7*7 }}{% raw %}'"</textarea><img src=x onerror=alert(1)>"""


def test_hostile_text_is_text_in_every_field(nurse: TestClient, page: Page) -> None:
    names = re.findall(r'name="_n" value="([^"]+)"', start(nurse, purpose="first assessment"))
    assert len(names) > 40
    text = touch(nurse, "", **dict.fromkeys(map(unescape, names), HOSTILE))
    assert "<script>alert" not in text and "onerror=alert(1)>" not in text.replace("onerror=alert(1)&gt;", "")
    assert "49{%" not in text
    assert unescape(text).count("<script>alert(1)") > 20
    signed = nurse.post(f"{NOTE}/sign", data={"seen": seen(nurse.get(NOTE).text), "sure": "1"})
    assert signed.status_code in (200, 400)
    for path in ("/", CLIENT, f"{CLIENT}/hand-over", f"{CLIENT}/course/1"):
        assert "<script>alert" not in nurse.get(path).text
    assert "<script>alert" not in nurse.get(f"{CLIENT}/sheet").text


@pytest.mark.parametrize("name", ["..%2f..%2fetc", "d1.draft", "%2e%2e", "x" * 300])
def test_an_address_reaches_no_other_file(nurse: TestClient, name: str) -> None:
    start(nurse)
    assert nurse.get(f"{CLIENT}/d/{name}/1").status_code in (400, 404)
    assert nurse.get(f"/c/{name}").status_code in (400, 404)
