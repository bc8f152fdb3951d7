"""Help: the guide, served to who was let in, and nothing else by its address."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from tests.page.conftest import Page, application
from woundfhir.guide.site import asset, html_files


def test_help_leads_to_the_guide_and_back(browser: TestClient) -> None:
    assert '<a href="/guide/index.html">Help</a>' in browser.get("/").text
    assert ">Aide</a>" in browser.get("/", headers={"Accept-Language": "fr-CA"}).text
    first = browser.get("/guide/index.html")
    assert first.status_code == 200 and '<a class="back" href="/">' in first.text
    assert "PK03: packing-count-out" in browser.get("/guide/rules/PK03.html").text
    assert "script-src 'self'" in first.headers["content-security-policy"]


def test_every_file_of_the_site_is_served(browser: TestClient) -> None:
    for name in ("guide.css", "fonts/bold.woff2", "pictures/sheet.png", "pictures/chart.svg"):
        found = browser.get(f"/guide/{name}")
        assert found.content == asset(name.rpartition("/")[2]), name
    name, content = next(html_files())
    assert (
        browser.get(f"/guide/{name}").text.replace('<a class="back" href="/">Back to your work</a>', "")
        == content.decode()
    )


@pytest.mark.parametrize("name", ["", "nothing.html", "pages/index.md", "%2e%2e/__init__.py", "x.css"])
def test_no_other_file_is(browser: TestClient, name: str) -> None:
    assert browser.get(f"/guide/{name}").status_code == 404


def test_nobody_reads_it_who_was_not_let_in(page: Page) -> None:
    assert TestClient(application(page), base_url="http://testserver").get("/guide/index.html").status_code in (
        401,
        403,
    )
