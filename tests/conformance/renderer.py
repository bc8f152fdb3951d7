"""A general-purpose FHIR form renderer (npm package ``lforms``, U.S. National Library of Medicine) in a real browser.

The package holds built files, so that it needs no build and none of its npm dependencies. It is fetched once with
``npm pack`` into the git-ignored folder beside the jars, and served on the loopback interface alone.
"""

from __future__ import annotations

import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.form.served import Unavailable, served

from .jars import JARS

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


@contextmanager
def rendered(questionnaire: dict[str, Json]) -> Iterator[Json]:
    """Yield a page (Playwright) on which the form stands."""
    with served(folder()) as page:
        page.evaluate("form => LForms.Util.addFormToPage(form, 'form', {fhirVersion: 'R4'})", questionnaire)
        page.wait_for_selector("#form input")
        yield page


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
