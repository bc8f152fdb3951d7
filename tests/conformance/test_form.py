"""The Questionnaire opens and behaves in a general-purpose FHIR form renderer, and its answers are in order.

Outside sources: the npm package lforms (version in renderer.py) in Chromium; the HL7 validation engine for what comes
out of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from .allowed import refused
from .conftest import PROFILES
from .engine import Engine
from .jars import Unavailable
from .renderer import answers, rendered

Json = Any


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
        pytest.skip(f"the form cannot be shown: {reason}")


def _field(page: Json, link: str) -> Json:
    """The input of an item: the renderer names it by its linkId and the number at each level."""
    return page.locator(f"[id^='{link}/']").first


def _fill(page: Json, link: str, words: str) -> None:
    field = _field(page, link)
    field.click()
    field.fill("")
    field.press_sequentially(words)
    field.press("Tab")


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
    _fill(page, "wound.kind", "Pressure injury")
    _fill(page, "assessment.length", "4.1")
    _fill(page, "assessment.undermining.from", "2 o'clock position")
    _fill(page, "assessment.odour", "like old pond water")
    _fill(page, "assessment.pain_at_rest", "3")
    response = answers(page)
    said = _said(response)
    assert said["wound.kind"][0]["valueCoding"]["code"] == "1163215007"
    assert said["assessment.length"][0]["valueQuantity"]["value"] == 4.1
    assert said["assessment.undermining.from"][0]["valueCoding"]["display"] == "2 o'clock position"
    assert said["assessment.odour"] == [{"valueString": "like old pond water"}]
    assert said["assessment.pain_at_rest"] == [{"valueInteger": 3}]
    del response["meta"]  # The renderer names a profile of its own making there.
    assert refused(own_engine.validate([response])) == []


def test_questions_show_where_they_have_a_sense(page: Json) -> None:
    def shown(link: str) -> bool:
        return bool(page.locator(f"[id^='{link}/']").count())

    assert not shown("assessment.pressure_injury_stage")
    assert not shown("assessment.exudate_type")
    _fill(page, "wound.kind", "Pressure injury")
    _fill(page, "assessment.exudate_amount", "Moderate")
    page.wait_for_selector("[id^='assessment.exudate_type/']")
    assert shown("assessment.pressure_injury_stage")
    _fill(page, "assessment.exudate_amount", "None")
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
    assert refused(own_engine.validate([_response(questionnaire, "wound", _KIND)])) == []


@pytest.mark.parametrize(
    ("group", "item", "expected"),
    [
        ("wound", {"linkId": "wound.mood", "answer": [{"valueString": "good"}]}, "wound.mood"),
        ("wound", {"linkId": "wound.place", "answer": [{"valueBoolean": True}]}, "must be of the type string"),
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
