"""Take pictures of the nurse's page at three widths, in each language that it speaks, with the invented story.

Usage: ``python tools/build_screens.py [FOLDER]`` (default: ``examples/page``). Needs the extras ``page`` and
``conformance``, and Chromium. The pictures depend on the browser, so that nothing compares their bytes.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))  # the toolkit of this checkout, whichever is installed: before it is imported

from tests.page.chromium import WIDTHS, Server, api, take_in  # noqa: E402
from woundfhir.demo import story  # noqa: E402
from woundfhir.handover.bundling import bundle  # noqa: E402
from woundfhir.intake.source import parse  # noqa: E402
from woundfhir.page.folder import Folder  # noqa: E402
from woundfhir.page.screens.common import LANGUAGES  # noqa: E402
from woundfhir.page.state import Page  # noqa: E402
from woundfhir.r4 import jsonio  # noqa: E402
from woundfhir.record import History  # noqa: E402

#: The day on which the story's second wound is due.
NOW = datetime(2026, 4, 7, 9, 30, tzinfo=timezone(timedelta(hours=-4)))


def screens(tab: Any, address: str) -> Iterator[str]:
    """Go to one screen after another; yield the name of each."""
    tab.goto(f"{address}/who?back=/")
    tab.locator(".people button").first.click()
    yield "clients"
    tab.goto(f"{address}/c/ida.yaml")
    yield "client"
    tab.locator("button[value='full assessment']").first.click()
    tab.locator("#all").click()
    tab.locator("[name='assessment.infection_signs'][value=none]").click()
    tab.locator("#g-bed button.first").click()
    tab.wait_for_load_state("networkidle")
    tab.wait_for_timeout(500)
    tab.evaluate("scrollTo(0, 0)")
    yield "visit"
    for key, number in (("length", "2.4"), ("width", "1.7"), ("undermining[0].depth", "1.5")):
        tab.locator(f"[id='i-assessment.{key}']").fill(number)
    tab.locator("[id='f-assessment.undermining[0].from'] .h2 input").click()
    tab.locator("[id='f-assessment.undermining[0].to'] .h6 input").click()
    tab.wait_for_load_state("networkidle")
    tab.wait_for_timeout(500)
    tab.locator("#g-size").evaluate("one => one.scrollIntoView({block: 'start', behavior: 'instant'})")
    yield "size"
    tab.locator("[id='f-assessment.undermining']").evaluate("one => one.scrollIntoView({behavior: 'instant'})")
    yield "clock"
    tab.goto(f"{address}/c/ida.yaml/course/1")
    yield "course"
    tab.goto(f"{address}/c/ida.yaml/hand-over")
    yield "hand-over"
    take_in(tab, address, came())
    yield "take-in"


def came() -> bytes:
    """The document of another team that says something else of the newest visit."""
    data = parse(story(), "story").history.data
    data["visits"][-1]["wounds"][1]["assessment"]["pain_at_rest"] = "6"
    return jsonio.encode(bundle(History.of(data), "document"))


def serve(folder: Path) -> Server:
    """Serve the story on a free port, in a thread that ends with this process."""
    (folder / "ida.yaml").write_bytes(story())
    return Server(Page(Folder(folder), now=lambda: NOW))


def main(out: Path) -> None:
    """Write the pictures."""
    with api.sync_playwright() as running:
        browser = running.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        for language in LANGUAGES:
            for width, (wide, high) in WIDTHS.items():
                with tempfile.TemporaryDirectory() as name:
                    server = serve(Path(name))
                    size = {"width": wide, "height": high}
                    tab = browser.new_context(viewport=size, locale=f"{language}-CA").new_page()
                    tab.goto(server.first)
                    for screen in screens(tab, server.address):
                        path = out / language / f"{screen}-{width}.png"
                        path.parent.mkdir(parents=True, exist_ok=True)
                        tab.wait_for_load_state("networkidle")
                        tab.screenshot(path=path)
                        print(path)
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "examples" / "page")
