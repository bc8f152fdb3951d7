"""A second general-purpose renderer of FHIR forms (npm ``@aehrc/smart-forms-renderer``, CSIRO) in a real browser.

It is a React library: ``npm ci`` fetches it, pinned by ``package-lock.json``, into the git-ignored ``node_modules``
beside this file, esbuild bundles it with ``page.jsx``, and it is served on the loopback interface alone. ``pytest``
skips its tests where it cannot be had; with ``WOUNDFHIR_RENDERERS=required`` (CI) they fail.
"""

from __future__ import annotations

import hashlib
import shutil
import subprocess
from contextlib import AbstractContextManager
from functools import cache
from pathlib import Path
from typing import Any

from .served import Unavailable, served

Json = Any
_HERE = Path(__file__).resolve().parent
_MODULES = _HERE / "node_modules"
_PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>form</title><link rel="icon" href="data:,">
</head><body><div id="form"></div><script src="bundle.js"></script></body></html>"""


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


def opened() -> AbstractContextManager[Json]:
    """Open a page (Playwright) on which forms can be shown."""
    return served(folder())


def show(page: Json, questionnaire: Json, response: Json = None) -> None:
    """Open a form, empty or with a response."""
    page.evaluate("([questionnaire, response]) => openForm(questionnaire, response)", [questionnaire, response])
    page.wait_for_selector("[data-linkid='visit:id'] textarea")


def saved(page: Json) -> dict[str, Json]:
    """Return what the form says, as the renderer saves it."""
    return page.evaluate("() => readForm()")  # type: ignore[no-any-return]
