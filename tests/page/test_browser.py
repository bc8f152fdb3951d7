"""The page in Chromium: a whole visit by touch and by keyboard, and nothing lost."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.page.chromium import Server, chromium, opened, server, settled, sign_in, wait
from tests.page.conftest import page_on
from woundfhir.checklist import judge
from woundfhir.checklist.one_note import of_note
from woundfhir.intake.source import parse
from woundfhir.page.state import Page

__all__ = ["chromium", "server"]
pytestmark = pytest.mark.browser


#: The demo's next visit, touch by touch: the wound that is due, charted from the last note.
VISIT = (
    "#all",
    "#g-removed input[value=intact]",
    "#g-count_out button[data-by='-1']",
    "#g-bed button[value='same:bed']",
    "#g-fluid button[value='same:fluid']",
    "#g-skin button[value='same:skin']",
    "#g-infection input[value=none]",
    "[name='assessment.pain_at_rest'][value='2']",
    "[name='assessment.pain_at_change'][value='4']",
    "#g-packing input[value=none]",
    "[name='care.response.tolerated'][value=well]",
    "[name='care.response.stinging'][value=none]",
    "[name='care.response.pain_after'][value='2']",
    "#g-next button[value='same:next']",
)


def newest(folder: Path) -> Any:
    return parse((folder / "ida.yaml").read_bytes(), "ida.yaml").history


def test_the_next_visit_is_charted_with_sixteen_touches(chromium: Any, server: Server, folder: Path) -> None:
    tab = opened(chromium, server, has_touch=True)
    sign_in(tab, server)
    tab.get_by_role("button", name="Change the dressing").first.tap()
    touches = 1
    for place in VISIT:
        tab.locator(place).first.tap()
        touches += 1
        settled(tab)
    assert tab.locator("#missing h2").inner_text() == "Complete"
    tab.get_by_role("button", name="Sign the note").tap()
    touches += 1
    tab.wait_for_url("**?signed=V9")
    assert touches == 16
    after = newest(folder)
    assert after.visits[-1]["status"] == "final" and not of_note(judge(after), after, "V9").findings
    assert tab.faults == []


def test_a_nurse_who_does_not_wait_is_never_shown_that_it_failed(chromium: Any, server: Server) -> None:
    tab = opened(chromium, server, has_touch=True)
    sign_in(tab, server)
    tab.get_by_role("button", name="Full assessment").first.tap()
    tab.wait_for_url("**/d/d1/1")
    watch = """() => {
        window.said = [];
        const place = document.getElementById('state');
        new MutationObserver(() => window.said.push(place.className)).observe(place, {attributes: true});
    }"""
    tab.evaluate(watch)
    for place in ("#all", "[name='assessment.infection_signs'][value=none]"):
        tab.locator(place).first.click()
    tab.locator("#g-skin button.first").wait_for()
    three = "['bed', 'fluid', 'skin'].map((one) => document.querySelector(`#g-${one} button.first`))"
    tab.evaluate(f"{three}.forEach((one) => one.click())")  # before the first of them is answered
    settled(tab)
    assert [one for one in tab.evaluate("window.said") if "bad" in one] == [] and tab.faults == []
    assert tab.locator("[name='assessment.infection_signs'][value=none]").is_checked()
    assert tab.locator("#g-bed.done, #g-fluid.done, #g-skin.done").count() == 3


def test_a_visit_by_keyboard_alone(chromium: Any, server: Server, folder: Path) -> None:
    tab = opened(chromium, server, "desktop")
    sign_in(tab, server)
    tab.get_by_role("button", name="Change the dressing").first.press("Enter")
    tab.wait_for_url("**/d/d1/1")

    def reach(place: str) -> None:
        for _ in range(250):
            if tab.evaluate("place => document.activeElement?.matches(place)", place):
                return
            tab.keyboard.press("Tab")
        raise AssertionError(f"not reached by the keyboard: {place}")

    for place in VISIT:
        button = "button" in place or place == "#all"
        if "input[value" in place or button:
            reach(place)
            tab.keyboard.press("Enter" if button else "Space")
        else:  # a row of numbers or words: reached as one, chosen with the arrows
            name, value = re.findall(r"\[(?:name|value)='?([^'\]]+)'?\]", place)
            reach(f"[name='{name}']")
            tab.keyboard.press("Space")
            while not tab.evaluate("p => document.querySelector(p).checked", place):
                tab.keyboard.press("ArrowRight")
            assert value
        settled(tab)
    assert tab.locator("#missing h2").inner_text() == "Complete"
    reach(".sign")
    tab.keyboard.press("Enter")
    tab.wait_for_url("**?signed=V9")
    assert newest(folder).visits[-1]["wounds"][0]["assessment"]["pain_at_change"] == "4"


def test_a_line_of_what_is_missing_leads_to_its_field(chromium: Any, server: Server) -> None:
    tab = opened(chromium, server, "desktop")
    sign_in(tab, server)
    tab.get_by_role("button", name="Change the dressing").first.click()
    tab.locator("#missing a", has_text="Odour").click()
    settled(tab)
    assert tab.evaluate("!!document.activeElement.closest('#f-assessment\\\\.odour')")
    top = "document.getElementById('f-assessment.odour').getBoundingClientRect().y"
    wait(tab, f"0 <= {top} && {top} < 900")  # it glides there


def test_a_closed_tab_and_a_killed_server_lose_nothing(chromium: Any, server: Server, folder: Path, page: Page) -> None:
    tab = opened(chromium, server)
    sign_in(tab, server)
    tab.get_by_role("button", name="Change the dressing").first.click()
    tab.locator("#i-note").press_sequentially("looked well, no complaint", delay=1)
    settled(tab)
    tab.close()
    server.kill()
    again = Server(page_on(folder), server.port)
    try:
        tab = opened(chromium, again)
        tab.goto(f"{again.address}/c/ida.yaml/d/d1/1")
        assert tab.locator("#i-note").input_value() == "looked well, no complaint"
        # The server goes while she writes: the words stay in the window, and are sent when it is back.
        again.kill()
        tab.locator("#i-note").press("End")
        tab.keyboard.type(", slept well")
        wait(tab, "document.getElementById('state').classList.contains('bad')")
        third = page_on(folder)
        third.secret = again.page.secret  # as if the same browser had been let in again
        back = Server(third, server.port)
        wait(tab, "!document.getElementById('state').classList.contains('bad')")
        settled(tab)
        found = next((folder / ".woundfhir-page").rglob("*.draft")).read_text("utf-8")
        assert "looked well, no complaint, slept well" in found
        back.kill()
    finally:
        again.kill()


def test_two_tabs_show_both_answers(chromium: Any, server: Server) -> None:
    one = opened(chromium, server, "desktop")
    sign_in(one, server)
    one.get_by_role("button", name="Change the dressing").first.click()
    one.wait_for_url("**/d/d1/1")
    two = one.context.new_page()
    two.goto(one.url)
    one.locator("#g-pain input[name='assessment.pain_at_rest'][value='2']").click()
    settled(one)
    two.locator("#g-pain input[name='assessment.pain_at_rest'][value='7']").click()
    two.locator("#conflicts .conflict").wait_for()
    words = two.locator("#conflicts").inner_text()
    assert "2" in words and "7" in words and "Nurse One" in words
    two.get_by_role("button", name="Keep what is in the note").click()
    settled(two)
    assert two.locator("input[name='assessment.pain_at_rest'][value='2']").is_checked()
    assert two.locator("#conflicts").inner_text() == ""
    one.locator("#g-pain input[name='assessment.pain_at_change'][value='3']").click()
    settled(one)
    two.locator("#g-pain input[name='assessment.pain_at_change'][value='8']").click()
    two.get_by_role("button", name="Take mine").click()
    settled(two)
    one.reload()
    assert one.locator("input[name='assessment.pain_at_change'][value='8']").is_checked()


def test_a_clock_face_takes_an_hour_by_touch_and_by_arrow(chromium: Any, server: Server) -> None:
    tab = opened(chromium, server, has_touch=True)
    sign_in(tab, server)
    tab.get_by_role("button", name="Full assessment").first.tap()
    tab.wait_for_url("**/d/d1/1")
    face = tab.locator("[id='f-assessment.undermining[0].from'] .face")
    face.locator(".h2").tap()
    settled(tab)
    face = tab.locator("[id='f-assessment.undermining[0].to'] .face")
    face.locator(".h5").tap()
    tab.keyboard.press("ArrowRight")
    settled(tab)
    tab.locator("[id='i-assessment.undermining[0].depth']").fill("3,5")
    settled(tab)
    tab.reload()
    assert tab.locator("[name='assessment.undermining[0].from'][value='2']").is_checked()
    assert tab.locator("[name='assessment.undermining[0].to'][value='6']").is_checked()
    assert tab.locator("[id='i-assessment.undermining[0].depth']").input_value() == "3,5"
