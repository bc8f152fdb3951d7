"""The site in Chromium: no serious fault by axe, nothing wider than the glass, nothing fetched, and it prints.

Outside source: axe-core's rules (WCAG 2).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.page.chromium import WIDTHS, chromium
from woundfhir.guide.site import html_files

__all__ = ["chromium"]
pytestmark = pytest.mark.browser
_PAGES = (
    *("index", "first-minute", "nurse", "how-sql", "intended-use", "figures", "rules", "rules/PK03", "mapping"),
    *("concepts/assessment.tunnels", "profiles/observation-tunnels", "commands/check", "python/History"),
)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("site")
    for name, content in html_files():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return folder


@pytest.mark.parametrize("width", sorted(WIDTHS))
def test_every_kind_of_page_is_sound_at_each_width(chromium: Any, site: Path, width: str) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    wide, high = WIDTHS[width]
    tab = chromium.new_page(viewport={"width": wide, "height": high})
    asked: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    for name in _PAGES:
        tab.goto((site / f"{name}.html").as_uri())
        assert not tab.evaluate("document.documentElement.scrollWidth > innerWidth"), f"{name} is wider than {width}"
        found = [(one["id"], one["nodes"][0]["html"]) for one in axe.run(tab).response["violations"]]
        assert found == [], name
    assert {url for url in asked if not url.startswith((site.as_uri(), "data:"))} == set()
    tab.close()


def test_it_prints_without_its_contents(chromium: Any, site: Path) -> None:
    tab = chromium.new_page()
    tab.goto((site / "first-minute.html").as_uri())
    tab.emulate_media(media="print")
    assert not tab.locator("#contents").is_visible() and tab.locator("h1").is_visible()
    assert tab.locator("pre").first.evaluate("one => getComputedStyle(one).whiteSpace") == "pre-wrap"
    tab.close()


def test_the_keyboard_leads_past_the_head_to_the_text(chromium: Any, site: Path) -> None:
    tab = chromium.new_page()
    tab.goto((site / "nurse.html").as_uri())
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.className") == "skip"
    tab.keyboard.press("Enter")
    assert tab.evaluate("location.hash") == "#main"
    tab.close()
