"""The page in Chromium: axe-core finds no fault, nothing is wider than the glass, nothing is asked of elsewhere.

axe-core (Deque Systems, MPL 2.0, rules after WCAG 2.2) comes in the package axe-playwright-python.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from typing import Any

import pytest

from tests.page.chromium import Server, chromium, drawn, opened, server, settled, sign_in, take_in
from tests.page.test_taking import another

__all__ = ["chromium", "server"]
pytestmark = pytest.mark.browser
AXE = files(pytest.importorskip("axe_playwright_python")) / "axe.min.js"
#: Of what holds (megabytes, place by place) nothing is listed.
ASKED = """axe.run(document, {
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"], resultTypes: ["violations"],
}).then((found) => found.violations)"""


SCREENS = (
    "/",
    "/who",
    "/new",
    "/take-in",
    "/audit",
    "/c/ida.yaml",
    "/c/ida.yaml/course/1",
    "/c/ida.yaml/hand-over",
    "/c/ida.yaml/wound",
    "/c/ida.yaml/d/d1/1",
    "/c/ida.yaml/d/d1/1/read",
)


def looked_at(tab: Any, server: Server) -> Iterator[str]:
    sign_in(tab, server)
    tab.locator("button[value='full assessment']").first.click()
    tab.wait_for_url("**/d/d1/1")
    tab.locator("[id='i-assessment.length']").fill("2.4")
    tab.locator("[id='i-assessment.width']").fill("1.7")
    settled(tab)
    for path in SCREENS:
        tab.goto(server.address + path)
        yield path
    tab.goto(f"{server.address}/c/ida.yaml")
    tab.locator("form[action$='/v/V8/amend'] button").click()
    tab.wait_for_url("**/d/d2/0")
    yield "an amendment"
    take_in(tab, server.address, another())
    yield "what came"


@pytest.mark.parametrize(("width", "locale"), [("phone", "en-CA"), ("desktop", "fr-CA")])
def test_axe_finds_no_fault(chromium: Any, server: Server, width: str, locale: str) -> None:
    tab = opened(chromium, server, width, locale=locale)
    faults = {}
    for path in looked_at(tab, server):
        tab.evaluate(
            "() => [...document.querySelectorAll('details')].slice(0, 40).forEach((one) => { one.open = true; })"
        )
        tab.evaluate(AXE.read_text("utf-8"))
        for one in tab.evaluate(ASKED):
            faults[path, one["id"], one["impact"]] = [node["html"][:160] for node in one["nodes"][:3]]
    assert faults == {}


@pytest.mark.parametrize(("width", "height"), [(320, 640), (390, 844), (820, 1180), (1440, 900)])
def test_nothing_is_wider_than_the_glass_and_touches_are_large(
    chromium: Any, server: Server, width: int, height: int
) -> None:
    """320 CSS pixels is a window of 640 at 200 % (WCAG 2.2, 1.4.4 and 1.4.10); 44 is the size of 2.5.5."""
    tab = opened(chromium, server)
    tab.set_viewport_size({"width": width, "height": height})
    for path in looked_at(tab, server):
        assert tab.evaluate("document.documentElement.scrollWidth") <= width, path
        small = tab.evaluate(
            """[...document.querySelectorAll(
                "button, .button, .chip, .hour, select, input:not([type=hidden]), textarea, summary"
            )]
            .filter((one) => one.checkVisibility() && !one.closest(".unseen") && !one.classList.contains("unseen"))
            .map((one) => [one.outerHTML.slice(0, 90), one.getBoundingClientRect().height])
            .filter(([, size]) => size > 0 && size < 43.5)"""
        )
        assert small == [], path


def test_nothing_is_asked_of_another_address(chromium: Any, server: Server) -> None:
    tab = opened(chromium, server)
    asked: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    for _ in looked_at(tab, server):
        drawn(tab)
    assert [url for url in asked if not url.startswith((server.address, "data:"))] == []
    assert tab.faults == []
