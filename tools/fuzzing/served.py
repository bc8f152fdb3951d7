"""The ways in that answer requests: the service and the nurse's page, each as a function of bytes."""

from __future__ import annotations

import asyncio
import io
import json
import re
import shutil
import tempfile
from datetime import datetime, timedelta, timezone
from pathlib import Path

from fuzzing.hostile import MARK

#: So many requests of the page before it begins again in a fresh folder.
FRESH = 500
#: When the visits of the page are: the day of the next change in the story.
DUE = datetime(2026, 4, 7, 9, 30, tzinfo=timezone(timedelta(hours=-4)))


class Fault(Exception):
    """An answer that says that something unforeseen happened."""


def service():
    """Return what asks the service in three ways for the same bytes."""
    from woundfhir.service import frames, worker
    from woundfhir.service.setup import Setup

    setup = Setup()
    day = {"today": "2026-04-07"}
    asked = (
        {"job": "convert", "options": {"media": "application/fhir+json", "to": "application/fhir+xml"}},
        {"job": "validate", "options": {"media": "application/fhir+json", **day}},
        {"job": "hook", "options": {"hook": "patient-view", **day}},
    )

    def run(data, deep):
        for one in asked:
            head, _ = frames.unpacked(io.BytesIO(worker.answer(one, data, setup)))
            if "fault" in head:
                raise Fault(head["fault"])
            if MARK in str(head.get("error")):
                raise Fault("a value in an error of the service")

    return run


class _Visit:
    """A browser that charts one visit; every so often in a fresh folder."""

    def __init__(self):
        # One loop for all requests; a test client of the usual kind begins a thread for each.
        self.loop = asyncio.new_event_loop()
        self.folder = self.browser = None
        self.left = 0

    def ask(self, method, path, data=None):
        return self.loop.run_until_complete(self.browser.request(method, path, data=data, follow_redirects=True))

    def begin(self):
        import httpx

        from woundfhir.demo import story
        from woundfhir.page.app import application
        from woundfhir.page.folder import Folder
        from woundfhir.page.state import Page

        if self.folder is not None:
            shutil.rmtree(self.folder)
        self.folder = tempfile.mkdtemp()
        Path(self.folder, "ida.yaml").write_bytes(story())
        page = Page(Folder(Path(self.folder)), now=lambda: DUE)
        transport = httpx.ASGITransport(application(page))
        self.browser = httpx.AsyncClient(transport=transport, base_url="http://testserver")
        self.ask("GET", f"/open?t={page.once}")
        self.ask("POST", "/who", {"name": "Nurse One", "designation": "RN", "id": "rn-204", "back": "/"})
        self.ask("POST", "/c/ida.yaml/start", {"wound": "1", "purpose": "dressing change"})
        self.left = FRESH

    def send(self, path, form):
        if not self.left:
            self.begin()
        self.left -= 1
        return self.ask("POST", path, form)


def page():
    """Return what sends a path and a form to the page."""
    visit = _Visit()

    def run(data, deep):
        try:
            path, fields = json.loads(data)
            form = {
                str(key): [str(one) for one in of] if isinstance(of, list) else str(of) for key, of in fields.items()
            }
            path = re.sub(r"[^!-~]|[?#]", "_", "/" + path.lstrip("/"))
        except (ValueError, TypeError, AttributeError, RecursionError):  # no form at all: nothing that can be sent
            return
        try:
            found = visit.send(path, form)
        except UnicodeError:  # the client's own refusal: half a surrogate pair cannot be sent
            return
        if found.status_code >= 500:
            raise Fault(f"{found.status_code} of the page")

    return run
