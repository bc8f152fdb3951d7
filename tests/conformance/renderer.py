"""A general-purpose FHIR form renderer (npm package ``lforms``, U.S. National Library of Medicine) in a real browser.

The package holds built files, so that it needs no build and none of its npm dependencies. It is fetched once with
``npm pack`` into the git-ignored folder beside the jars, and served on the loopback interface alone.
"""

from __future__ import annotations

import shutil
import subprocess
import tarfile
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from .jars import JARS, Unavailable

Json = Any
VERSION = "40.1.3"
_FOLDER = JARS / f"lforms-{VERSION}"
_PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>form</title><link rel="icon" href="data:,">
<link rel="stylesheet" href="dist/lforms/webcomponent/styles.css"></head><body><div id="form"></div>
<script src="dist/lforms/webcomponent/assets/lib/zone.min.js"></script>
<script src="dist/lforms/webcomponent/lhc-forms.js"></script>
<script src="dist/lforms/fhir/R4/lformsFHIR.min.js"></script></body></html>"""


def folder() -> Path:
    """Return the folder of the unpacked package with a page to open; raise Unavailable where it cannot be had."""
    if not (_FOLDER / "index.html").is_file():
        if shutil.which("npm") is None:
            raise Unavailable("no npm to fetch the form renderer with")
        JARS.mkdir(exist_ok=True)
        with tempfile.TemporaryDirectory(dir=JARS) as made:
            command = ["npm", "pack", f"lforms@{VERSION}", "--silent", f"--pack-destination={made}"]
            done = subprocess.run(command, capture_output=True, text=True, timeout=600, cwd=made)
            if done.returncode != 0:
                raise Unavailable("npm could not fetch the form renderer")
            with tarfile.open(Path(made) / f"lforms-{VERSION}.tgz") as archive:
                archive.extractall(made, filter="data")
            (Path(made) / "package" / "index.html").write_text(_PAGE, "utf-8")
            shutil.rmtree(_FOLDER, ignore_errors=True)
            (Path(made) / "package").rename(_FOLDER)
    return _FOLDER


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: Json) -> None:
        """Say nothing on stderr."""


@contextmanager
def rendered(questionnaire: dict[str, Json]) -> Iterator[Json]:
    """Yield a page (Playwright) on which the form stands; fail where it asks for anything outside this machine."""
    browser_file = shutil.which("chromium")
    if browser_file is None:
        raise Unavailable("no chromium on this machine")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        raise Unavailable("Playwright is not installed (extra: conformance)") from None
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(folder())))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    here = f"http://127.0.0.1:{server.server_port}/"
    outside: list[str] = []
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=browser_file, args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 1100, "height": 1400}, locale="en-CA")
            page.on(
                "request", lambda asked: None if asked.url.startswith((here, "data:")) else outside.append(asked.url)
            )
            page.goto(here)
            page.evaluate("form => LForms.Util.addFormToPage(form, 'form', {fhirVersion: 'R4'})", questionnaire)
            page.wait_for_selector("#form input")
            yield page
            browser.close()
    finally:
        server.shutdown()
        server.server_close()
    assert outside == []


def answers(page: Json) -> dict[str, Json]:
    """Return what was filled in, as the renderer's QuestionnaireResponse."""
    return page.evaluate("LForms.Util.getFormFHIRData('QuestionnaireResponse', 'R4')")  # type: ignore[no-any-return]


def reopened(page: Json, questionnaire: dict[str, Json], response: dict[str, Json]) -> dict[str, Json]:
    """Return a response as the renderer saves it after it was opened."""
    page.evaluate(
        """([questionnaire, response]) => {
            document.getElementById("form").innerHTML = "";
            const form = LForms.Util.convertFHIRQuestionnaireToLForms(questionnaire, "R4");
            const filled = LForms.Util.mergeFHIRDataIntoLForms("QuestionnaireResponse", response, form, "R4");
            return LForms.Util.addFormToPage(filled, "form", {fhirVersion: "R4"});
        }""",
        [questionnaire, response],
    )
    page.wait_for_selector("#form input")
    return answers(page)
