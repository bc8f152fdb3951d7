"""A second general-purpose renderer of FHIR forms (npm ``@aehrc/smart-forms-renderer``, CSIRO) in a real browser.

It is a React library: ``npm ci`` fetches it, pinned by ``package-lock.json``, into the git-ignored ``node_modules``
beside this file, esbuild bundles it with ``page.jsx``, and it is served on the loopback interface alone. ``pytest``
skips its tests where it cannot be had; with ``WOUNDFHIR_RENDERERS=required`` (CI) they fail.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache, partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

Json = Any
_HERE = Path(__file__).resolve().parent
_MODULES = _HERE / "node_modules"
_PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>form</title><link rel="icon" href="data:,">
</head><body><div id="form"></div><script src="bundle.js"></script></body></html>"""


class Unavailable(Exception):
    """The renderer cannot run on this machine; the text says why."""


def required() -> bool:
    """Whether a run without the renderer is a failure."""
    return os.environ.get("WOUNDFHIR_RENDERERS") == "required"


@cache
def folder() -> Path:
    """Return the folder of the bundled page, made where it is not there or the pinned packages changed."""
    if shutil.which("npm") is None:
        raise Unavailable("no npm to fetch the renderer with")
    wanted = hashlib.sha256()
    for name in ("package-lock.json", "page.jsx"):
        wanted.update((_HERE / name).read_bytes())
    made = _MODULES / ".page" / wanted.hexdigest()[:16]
    if (made / "index.html").is_file():
        return made
    if not (_MODULES / "@aehrc").is_dir():
        _run(["npm", "ci", "--no-audit", "--no-fund", "--ignore-scripts", "--prefer-offline", "--silent"], "fetch")
    bundle = ["node_modules/.bin/esbuild", "page.jsx", "--bundle", "--minify", "--log-level=error"]
    fonts = [f"--loader:{ending}=empty" for ending in (".woff", ".woff2")]
    define = '--define:process.env.NODE_ENV="production"'
    _run([*bundle, *fonts, define, f"--outfile={made / 'bundle.js'}"], "bundle")
    (made / "index.html").write_text(_PAGE, "utf-8")
    return made


def _run(command: list[str], what: str) -> None:
    done = subprocess.run(command, capture_output=True, text=True, timeout=1200, cwd=_HERE)
    if done.returncode != 0:
        raise Unavailable(f"npm could not {what} the renderer: {done.stderr.strip()[:200]}")


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: Json) -> None:
        """Say nothing on stderr."""


@contextmanager
def opened() -> Iterator[Json]:
    """Yield a page (Playwright) on which forms can be opened; fail where it asks for anything outside this machine."""
    browser_file = shutil.which("chromium")
    if browser_file is None:
        raise Unavailable("no chromium on this machine")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        raise Unavailable("Playwright is not installed") from None
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(folder())))
    threading.Thread(target=server.serve_forever, daemon=True).start()
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


def show(page: Json, questionnaire: Json, response: Json = None) -> None:
    """Open a form, empty or with a response."""
    page.evaluate("([questionnaire, response]) => openForm(questionnaire, response)", [questionnaire, response])
    page.wait_for_selector("[data-linkid='visit:id'] textarea")


def saved(page: Json) -> dict[str, Json]:
    """Return what the form says, as the renderer saves it."""
    return page.evaluate("() => readForm()")  # type: ignore[no-any-return]
