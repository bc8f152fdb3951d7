"""The page in Chromium: a server of its own that can be killed, a browser that was let in, waiting without guessing."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest

from woundfhir.page.app import application
from woundfhir.page.state import Page

api = pytest.importorskip("playwright.sync_api")
uvicorn = pytest.importorskip("uvicorn")
CHROMIUM = shutil.which("chromium")
WIDTHS = {"phone": (390, 844), "tablet": (820, 1180), "desktop": (1440, 900)}


class Server:
    """The page on a port of its own; it can be killed."""

    def __init__(self, page: Page, port: int = 0) -> None:
        config = uvicorn.Config(application(page), port=port, log_level="critical", lifespan="off")
        self.page, self.server = page, uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()
        while not self.server.started:
            time.sleep(0.01)
        self.port = self.server.servers[0].sockets[0].getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"

    @property
    def first(self) -> str:
        return f"{self.address}/open?t={self.page.once}"

    def kill(self) -> None:
        self.server.should_exit = self.server.force_exit = True
        self.thread.join(timeout=10)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    with api.sync_playwright() as running:
        browser = running.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def server(page: Page) -> Iterator[Server]:
    found = Server(page)
    yield found
    found.kill()


def opened(chromium: Any, server: Server, width: str = "tablet", **more: Any) -> Any:
    size = dict(zip(("width", "height"), WIDTHS[width], strict=True))
    context = chromium.new_context(**{"viewport": size, "locale": "en-CA", **more})
    context.set_default_timeout(90_000)  # on a busy machine a document that is taken in had taken longer than 30 s
    tab = context.new_page()
    tab.faults = []
    tab.on("pageerror", lambda error: tab.faults.append(str(error)))
    tab.on("console", lambda line: tab.faults.append(line.text) if line.type == "error" else None)
    tab.goto(server.first)
    return tab


def sign_in(tab: Any, server: Server) -> None:
    tab.goto(f"{server.address}/who?back=/c/ida.yaml")
    tab.get_by_role("button", name="Nurse One").click()
    tab.wait_for_url("**/c/ida.yaml")


def take_in(tab: Any, address: str, content: bytes) -> None:
    """Give the page what another team sent about the client of the story; its screen shows what would be taken."""
    tab.goto(f"{address}/take-in")
    tab.locator("#file").set_input_files({"name": "came.json", "mimeType": "application/json", "buffer": content})
    tab.locator("input[name=client][value='ida.yaml']").check(force=True)
    tab.locator("form[action='/take-in'] button.first").click()
    tab.locator("#taking").wait_for()


def drawn(tab: Any) -> None:
    """Wait for two frames: what the page was to do by itself, or for a touch, has begun."""
    tab.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done))))")


def settled(tab: Any) -> None:
    """Wait until every touch was answered and the list of what is missing is fresh.

    The page says "saved" and begins to ask for the list in one go. After two frames a touch has become a click.
    """
    drawn(tab)
    state, missing = "document.getElementById('state')", "document.getElementById('missing')"
    wait(tab, f"{state}.textContent === {state}.dataset.saved && {missing}.getAttribute('aria-busy') !== 'true'")


def wait(tab: Any, what: str, seconds: float = 60) -> None:
    """Wait until an expression holds; the page's own policy lets no other way to wait in."""
    end = time.monotonic() + seconds
    while not tab.evaluate(what):
        assert time.monotonic() < end, what
        tab.wait_for_timeout(20)
