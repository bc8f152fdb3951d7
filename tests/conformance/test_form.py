"""The Questionnaire opens and behaves in a general-purpose FHIR form renderer, and its answers are in order.

Outside sources: the npm package lforms (version in renderer.py) in Chromium; the HL7 validation engine for what comes
out of it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest

from tests.form.served import Unavailable, required, without_last_zeros
from woundfhir.demo import story
from woundfhir.fhir.form import write_response
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse

from .allowed import refused
from .conftest import PROFILES
from .engine import Engine
from .renderer import answers, rendered, reopened

Json = Any
encode = msgspec.json.Encoder(decimal_format="number").encode


@pytest.fixture(scope="session")
def questionnaire(definitions: list[dict[str, Json]]) -> dict[str, Json]:
    """The form of the package."""
    assert PROFILES.is_dir()
    return next(found for found in definitions if found["resourceType"] == "Questionnaire")


@pytest.fixture
def page(questionnaire: dict[str, Json]) -> Iterator[Json]:
    """The form in a browser."""
    try:
        with rendered(questionnaire) as found:
            yield found
    except Unavailable as reason:
        (pytest.fail if required() else pytest.skip)(f"the form cannot be shown: {reason}")


def _field(page: Json, link: str) -> Json:
    """The input of an item: the renderer names it by its linkId and the number at each level."""
    return page.locator(f"[id^='{link}/']").first


def _fill(page: Json, link: str, words: str) -> None:
    field = _field(page, link)
    for _ in range(3):  # on a busy machine the renderer's list may still offer what fitted the first letters
        field.click()
        field.fill("")
        field.press_sequentially(words)
        field.press("Tab")
        if field.input_value() == words:
            return


def _touch(page: Json, link: str, code: str) -> None:
    """Choose one of the options that stand side by side."""
    page.locator(f"[id^='{link}/'][id$='|{code}']").first.click()


def _said(response: dict[str, Json]) -> dict[str, list[dict[str, Json]]]:
    """The answers of a QuestionnaireResponse by linkId."""
    found: dict[str, list[dict[str, Json]]] = {}
    waiting = list(response.get("item", ()))
    while waiting:
        item = waiting.pop(0)
        waiting.extend(item.get("item", ()))
        if "answer" in item:
            found.setdefault(item["linkId"], []).extend(item["answer"])
    return found


def test_what_is_filled_in_comes_back(page: Json, own_engine: Engine) -> None:
    _fill(page, "visit:id", "V1")
    _fill(page, "wound:id", "W1")
    _fill(page, "wound.kind", "pressure injury")
    _fill(page, "wound.site", "sacrum")
    page.locator("[id^='wound:more/']").first.click()
    _fill(page, "wound.onset:words", "2026-01")
    _fill(page, "assessment.length", "4.1")
    _touch(page, "assessment.undermining:any", "373066001")
    _fill(page, "assessment.undermining.depth", "2.5")
    _touch(page, "assessment.tunnels:any", "260413007")
    _touch(page, "care.removed:any", "not-performed")
    _fill(page, "assessment.bed_colour", "red, with a blue shine")
    _fill(page, "assessment.pain_at_rest", "3")
    response = answers(page)
    del response["meta"]  # The renderer names a profile of its own making there.
    assert refused(own_engine.validate([response])) == []
    history, losses = from_fhir([response])
    assert history.wounds == [{"id": "W1", "kind": "pressure injury", "site": "sacrum", "onset": "2026-01"}]
    (visit,) = history.visits
    (entry,) = visit["wounds"]
    assert entry["assessment"] == {
        "length": "4.1 cm",
        "undermining": [{"depth": "2.5 cm"}],
        "tunnels": "none",
        "bed_colour": "red, with a blue shine",
        "pain_at_rest": "3",
    }
    assert entry["care"] == {"removed": {"absent": "not assessed"}}
    assert [loss.path for loss in losses.items if ".item" in loss.path] == []


def test_a_story_is_opened_and_saved_again(page: Json, questionnaire: dict[str, Json]) -> None:
    history = parse(story(), "story").history
    visit = history.visits[0]
    for entry in visit["wounds"]:
        response = json.loads(encode(write_response(history, visit["id"], entry["wound"])))
        found, _ = from_fhir([reopened(page, questionnaire, response)])
        (again,) = found.visits
        assert again["wounds"] == [without_last_zeros(entry)]
        own = {key: value for key, value in visit.items() if key != "wounds"}
        assert {key: value for key, value in again.items() if key != "wounds"} == own
        assert found.wounds == [history.wound(entry["wound"])]


def test_questions_show_where_they_have_a_sense(page: Json) -> None:
    def shown(link: str) -> bool:
        return bool(page.locator(f"[id^='{link}/']").count())

    assert not shown("assessment.pressure_injury_stage")
    assert not shown("assessment.exudate_type")
    assert not shown("assessment.length:why")
    _fill(page, "wound.kind", "pressure injury")
    _fill(page, "assessment.exudate_amount", "moderate")
    page.wait_for_selector("[id^='assessment.exudate_type/']")
    assert shown("assessment.pressure_injury_stage")
    _fill(page, "assessment.exudate_amount", "none")
    page.wait_for_selector("[id^='assessment.exudate_type/']", state="detached")
    _fill(page, "assessment.exudate_amount", "more than the pad holds")
    page.wait_for_selector("[id^='assessment.exudate_type/']")


def _response(questionnaire: dict[str, Json], group: str, *items: Json) -> dict[str, Json]:
    return {
        "resourceType": "QuestionnaireResponse",
        "questionnaire": questionnaire["url"],
        "status": "completed",
        "item": [{"linkId": group, "item": list(items)}],
    }


_KIND: dict[str, Json] = {
    "linkId": "wound.kind",
    "answer": [
        {"valueCoding": {"system": "http://snomed.info/sct", "code": "1163215007", "display": "Pressure injury"}}
    ],
}


def test_answers_in_order_pass(own_engine: Engine, questionnaire: dict[str, Json]) -> None:
    site = {"linkId": "wound.site", "answer": [{"valueString": "where the shoe rubs"}]}
    onset = {"linkId": "wound.onset", "answer": [{"valueDate": "2026-01-05"}]}
    assert refused(own_engine.validate([_response(questionnaire, "wound", _KIND, site, onset)])) == []


def test_the_notes_of_the_demo_pass(own_engine: Engine) -> None:
    """Each answer fits its item, none is missing that is demanded, none stands in an item that is hidden."""
    history = parse(story(), "story").history
    pairs = [(visit["id"], entry["wound"]) for visit in history.visits for entry in visit.get("wounds", ())]
    responses = [json.loads(encode(write_response(history, *pair))) for pair in pairs]
    assert len(responses) > 5
    assert refused(own_engine.validate(responses)) == []


@pytest.mark.parametrize(
    ("group", "item", "expected"),
    [
        ("wound", {"linkId": "wound.mood", "answer": [{"valueString": "good"}]}, "wound.mood"),
        ("wound", {"linkId": "wound.place", "answer": [{"valueBoolean": True}]}, "must be of the type (string|text)"),
        ("wound", {**_KIND, "answer": _KIND["answer"] * 2}, "Only one response answer item"),
        ("assessment", _KIND, "Misplaced|wound.kind"),
    ],
    ids=["a question that is not there", "an answer of another type", "two answers to one question", "a wrong place"],
)
def test_answers_out_of_order_are_refused(
    own_engine: Engine, questionnaire: dict[str, Json], group: str, item: Json, expected: str
) -> None:
    found = refused(own_engine.validate([_response(questionnaire, group, item)]))
    assert any(issue.severity == "error" and re.search(expected, issue.message) for issue in found), found
