"""The page in French: every screen in its language, none of its own words left in English.

The record behind it holds no words of a nurse's own (tests/french/conftest.py); the stop list is that of tests/french.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

pytest.importorskip("starlette")
pytest.importorskip("jinja2")

from lxml import etree
from starlette.testclient import TestClient

from tests.french.conftest import without_own_words
from tests.french.test_print import english_in, words_of
from tests.page.conftest import browser_of, page_on
from woundfhir.demo import story
from woundfhir.intake.source import parse
from woundfhir.output import render

CLIENT = "/c/ida.yaml"
SCREENS = ("/", "/who", "/new", "/audit", "/take-in", CLIENT, f"{CLIENT}/wound", f"{CLIENT}/hand-over")
SCREENS += (f"{CLIENT}/course/0", f"{CLIENT}/course/1")


@pytest.fixture
def french(tmp_path: Path) -> TestClient:
    history = without_own_words(parse(story(), "story.yaml").history.data)
    (tmp_path / "ida.yaml").write_bytes(render(history, "record"))
    browser = browser_of(page_on(tmp_path))
    browser.headers["accept-language"] = "fr-CA,fr;q=0.9,en;q=0.5"
    browser.post("/who", data={"name": "Qxx", "designation": "RN", "id": "rn-1", "back": "/"})
    return browser


@pytest.mark.parametrize("path", SCREENS)
def test_a_screen_is_french(french: TestClient, path: str) -> None:
    found = french.get(path)
    assert found.status_code == 200
    assert etree.HTML(found.content).get("lang") == "fr"
    assert english_in(words_of(found.content)) == set()


def test_the_visit_is_french(french: TestClient) -> None:
    found = french.post(f"{CLIENT}/start", data={"wound": "1", "purpose": "full assessment"})
    # Keys of the record in an example of how an answer is written: length: 4.1 cm, {end_felt: yes}.
    shown = re.sub(r"Par exemple\u00a0: .*?(?=[A-ZÀ-Ý])", " ", words_of(found.content), flags=re.S)
    assert english_in(shown) == set()
    assert "oui" in shown


def test_each_browser_is_answered_in_its_language(french: TestClient) -> None:
    assert "Feuille" in french.get(f"{CLIENT}/hand-over").text or "feuille" in french.get(f"{CLIENT}/hand-over").text
    english = french.get("/", headers={"accept-language": "en"})
    assert etree.HTML(english.content).get("lang") == "en"
    assert "Packing inside" in english.text and "Mèche en place" not in english.text
    assert "Mèche en place" in french.get("/").text


def test_an_address_that_is_none_is_refused_in_french(french: TestClient) -> None:
    """What the guard refuses, no screen has seen: the answer asks the request for its language itself."""
    for answer in (french.get("/nothing/here"), french.get("/c/none"), french.get("/assets/none")):
        assert answer.status_code in (400, 404) and 'lang="fr"' in answer.text
        assert "attendu" in answer.text and "expected" not in answer.text
    assert "expected" in french.get("/nothing/here", headers={"accept-language": "en"}).text
