"""The form in a second renderer that we did not write: what it saves is what the nurse answered.

Outside sources: the npm packages @aehrc/smart-forms-renderer and @aehrc/sdc-template-extract (package-lock.json) in
Chromium. The first renderer, LHC-Forms, is tried in tests/conformance/test_form.py.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest

from tests.fhir.test_form import questionnaire
from woundfhir.demo import story
from woundfhir.fhir.form import write_response
from woundfhir.fhir.terms import terms
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse
from woundfhir.record import History

from .served import Unavailable, required, without_last_zeros
from .smart_forms import opened, saved, show

Json = Any
pytestmark = pytest.mark.browser
encode = msgspec.json.Encoder(decimal_format="number").encode


@pytest.fixture(scope="module")
def page() -> Iterator[Json]:
    try:
        with opened() as found:
            yield found
    except Unavailable as reason:
        (pytest.fail if required() else pytest.skip)(f"the form cannot be shown: {reason}")


@pytest.fixture(scope="module")
def history() -> History:
    return parse(story(), "story").history


def response_of(history: History, visit: str, wound: str) -> dict[str, Json]:
    return json.loads(encode(write_response(history, visit, wound)))  # type: ignore[no-any-return]


def test_a_story_is_opened_and_saved_again(page: Json, history: History) -> None:
    visit = history.visits[0]
    for entry in visit["wounds"]:
        show(page, questionnaire(), response_of(history, visit["id"], entry["wound"]))
        found, _ = from_fhir([saved(page)])
        (again,) = found.visits
        assert again["wounds"] == [without_last_zeros(entry)]
        own = {key: value for key, value in visit.items() if key != "wounds"}
        assert {key: value for key, value in again.items() if key != "wounds"} == own
        assert found.wounds == [history.wound(entry["wound"])]


def test_what_is_filled_in_by_hand_comes_back(page: Json) -> None:
    def field(link: str) -> Json:
        return page.locator(f"[data-linkid='{link}']").first

    def write(link: str, words: str) -> None:
        box = field(link).locator("textarea:not([readonly]), input:not([readonly])").first
        box.click()
        box.press_sequentially(words)
        page.wait_for_timeout(600)  # the renderer waits for the end of what is typed

    show(page, questionnaire())
    for link, words in (("visit:id", "V1"), ("wound:id", "W1"), ("wound.place", "above the heel")):
        write(link, words)
    field("wound:more").locator("input[value='true']").click()
    page.wait_for_timeout(600)
    write("wound.onset:words", "2026-01")
    page.locator("[id='quantity-assessment.length-input']").press_sequentially("4.1")
    field("assessment.tunnels:any").locator("input[value='260413007']").click()
    field("assessment.undermining:any").locator("input[value='not-performed']").click()
    field("assessment.edge").locator("input[aria-label='rolled']").click()
    page.wait_for_timeout(600)
    history, losses = from_fhir([saved(page)])
    assert history.wounds == [{"id": "W1", "place": "above the heel", "onset": "2026-01"}]
    (visit,) = history.visits
    (entry,) = visit["wounds"]
    length = entry["assessment"].pop("length")
    assert length.split()[0] == "4.1"
    assert entry["assessment"] == {"tunnels": "none", "undermining": {"absent": "not assessed"}, "edge": ["rolled"]}
    assert [loss.path for loss in losses.items if ".item" in loss.path] == []


def test_procedures_supplies_and_the_plan_are_extracted(page: Json, history: History) -> None:
    """HL7 SDC, template-based extraction, by a library that we did not write."""
    entry = history.visits[0]["wounds"][1]
    response = response_of(history, "V1", entry["wound"])
    found = page.evaluate("([form, response]) => extract(response, form)", [questionnaire(), response])
    made = [one["resource"] for one in found["extractedBundle"]["entry"]]
    kinds = [one["resourceType"] for one in made]
    steps = [key for key, term in terms().groups["care"].items() if term.spread == "step" and key in entry["care"]]
    done = [key for key in steps if isinstance(entry["care"][key], (dict, list)) and "absent" not in entry["care"][key]]
    assert kinds.count("Procedure") >= len(done) > 3
    assert kinds.count("SupplyDelivery") == len(entry["supplies"])
    used = {coding["code"] for one in made for concept in one.get("usedCode", ()) for coding in concept["coding"]}
    assert {"dressing-honey-alginate", "387390002"} <= used
    (plan,) = (one for one in made if one["resourceType"] == "CarePlan")
    (detail,) = (one["detail"] for one in plan["activity"])
    assert detail["performer"] == [{"display": entry["plan"]["change_by"]}]
    every = detail["scheduledTiming"]["repeat"]
    assert f"{every['period']} {every['periodUnit']}" == entry["plan"]["change_every"]
    # The library puts the values of a repeating primitive (event) into _event; the standard puts them into event.
    assert detail["scheduledTiming"]["_event"] == [entry["plan"]["next_change"]]
    assert all(one.get("subject", one.get("patient"))["reference"].startswith("Patient/") for one in made)
