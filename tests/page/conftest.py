"""A folder with the invented story, the page on it, and a browser that was let in."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

pytest.importorskip("starlette")
pytest.importorskip("jinja2")

from starlette.testclient import TestClient

from woundfhir.demo import story
from woundfhir.page.app import application
from woundfhir.page.folder import Folder
from woundfhir.page.state import Page

#: The day on which the story's second wound is due.
DUE = datetime(2026, 4, 7, 9, 30, tzinfo=timezone(timedelta(hours=-4)))


def page_on(folder: Path) -> Page:
    return Page(Folder(folder), now=lambda: DUE)


def browser_of(page: Page) -> TestClient:
    found = TestClient(application(page), base_url="http://testserver")
    assert found.get(f"/open?t={page.once}").status_code == 200
    return found


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "ida.yaml").write_bytes(story())
    return tmp_path


@pytest.fixture
def page(folder: Path) -> Page:
    return page_on(folder)


@pytest.fixture
def browser(page: Page) -> Iterator[TestClient]:
    yield browser_of(page)


@pytest.fixture
def nurse(browser: TestClient) -> TestClient:
    """A browser in which a nurse has said who she is."""
    browser.post("/who", data={"name": "Nurse One (invented)", "designation": "RN", "id": "rn-204", "back": "/"})
    return browser
