"""A folder of a form renderer, served to Chromium on the loopback interface alone."""

from __future__ import annotations

import os
import re
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

Json = Any


class Unavailable(Exception):
    """A program that the tests need cannot run on this machine; the text says why."""


def required() -> bool:
    """Whether a run without the renderers is a failure."""
    return os.environ.get("WOUNDFHIR_RENDERERS") == "required"


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: Json) -> None:
        """Write nothing to standard error."""


@contextmanager
def served(folder: Path) -> Iterator[Json]:
    """Yield the folder's page (Playwright); fail where it asks for anything outside this machine."""
    browser_file = shutil.which("chromium")
    if browser_file is None:
        raise Unavailable("no chromium on this machine")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        raise Unavailable("Playwright is not installed (extra: conformance)") from None
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(folder)))
    threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True).start()
    here = f"http://127.0.0.1:{server.server_port}/"
    outside: list[str] = []
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=browser_file, args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 1100, "height": 1400}, locale="en-CA")
            page.set_default_timeout(90_000)
            page.on(
                "request", lambda asked: None if asked.url.startswith((here, "data:")) else outside.append(asked.url)
            )
            page.goto(here)
            yield page
            browser.close()
    finally:
        server.shutdown()
        server.server_close()
    assert outside == []


def without_last_zeros(answers: Json) -> Json:
    """Return answers without the zeros behind a decimal: to a script of a page, 2.0 and 2 are one number."""
    if isinstance(answers, dict):
        return {key: without_last_zeros(one) for key, one in answers.items()}
    if isinstance(answers, list):
        return [without_last_zeros(one) for one in answers]
    return re.sub(r"^(\d+)(?:\.0+|(\.\d*[1-9])0+)( |$)", r"\1\2\3", answers)
