"""The nurse's page on a five-year history: a touch, what is missing after it, the list of clients."""

from __future__ import annotations

import tempfile
import warnings
from pathlib import Path

import woundfhir
from bench.figures import Figure, Report, best
from bench.histories import in_turn, long
from woundfhir import History


def page(history: History, report: Report) -> None:
    """Each against one check of the story's notes."""
    warnings.simplefilter("ignore")  # Starlette's own, about its test client
    from starlette.testclient import TestClient

    from woundfhir.page.app import application
    from woundfhir.page.folder import Folder
    from woundfhir.page.state import Page

    part = "The nurse's page, 1,800 visits in the record"
    given = long(history, in_turn(history, 1_800))
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "long.yaml").write_text(woundfhir.dumps(given, format="record"), "utf-8")
        shown = Page(Folder(Path(name)))
        browser = TestClient(application(shown), base_url="http://localhost")
        browser.get(f"/open?t={shown.once}")
        browser.post("/c/long.yaml/start", data={"wound": "1", "purpose": "dressing change"})
        note = "/c/long.yaml/d/d1/1"
        words = ["none", "faint"]

        def touch() -> int:
            words.reverse()
            sent = {"seen": "1000000", "_n": "assessment.odour", "assessment.odour": words[0], "step": "look"}
            return browser.post(note, data=sent, headers={"X-Part": "1"}).status_code

        if touch() != 200 and touch() != 200:  # a busy machine reads the record for longer than a request may take
            report.add(Figure(part, "not measured here: a request was not answered in time", ""))
            return
        work = (lambda: woundfhir.check(history), touch, lambda: browser.get(f"{note}/lacks"), lambda: browser.get("/"))
        checked, touched, lacks, listed = best(*work, rounds=3)
    floor = {"against": "one check"}
    report.timed(part, f"one check of the story's {len(history.visits)} notes (floor)", checked, checked, **floor)
    report.timed(part, "a touch", touched, checked, **floor)
    report.timed(part, "what is missing after it", lacks, checked, limit=20, main=True, work=work[2], **floor)
    report.timed(part, "the list of clients", listed, checked, **floor)
