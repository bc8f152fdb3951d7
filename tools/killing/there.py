"""What outlives what is killed, or opens what it left: a server that stores what was sent, and the page on a folder."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path


class Server:
    """The server that the tests play, in a thread: what is stored there, and what is wrong with it."""

    def __init__(self, client):
        from http.server import ThreadingHTTPServer

        from tests.server.played import playing

        ThreadingHTTPServer.handle_error = lambda *_: None  # whoever asked was killed
        self.open, self.client = playing(), client
        self.played = self.open.__enter__()
        self.whole = None

    def clear(self):
        """Let nothing be stored there."""
        with self.played.lock:
            self.played.resources, self.played.asked = {}, []

    def state(self):
        """What is stored: how often each resource, by what names it, and the record that is fetched from there."""
        from woundfhir.errors import WoundfhirError
        from woundfhir.server.connection import Connection, base_of
        from woundfhir.server.fetching import fetch

        with self.played.lock:
            named = [
                (one["resourceType"], json.dumps(one.get("identifier"), sort_keys=True))
                for one in self.played.resources.values()
            ]
        try:
            return Counter(named), fetch(Connection(base_of(self.played.base)), self.client).history.data
        except WoundfhirError as error:  # nothing is there yet, or half a history
            return Counter(named), str(error)

    def wrong(self, receipt):
        """What hinders that it is as if nothing had been killed; "" for nothing."""
        named, record = self.state()
        if max(named.values(), default=0) > 1:
            return "stored twice"
        if (named, record) != self.whole:
            return "not all is stored, or it reads otherwise"
        if receipt is not None and len(json.loads(receipt.read_bytes())["stored"]) != len(named):
            return "the receipt does not name what is stored"
        return ""


def on_page(folder, touch):
    """Open the page on a folder and, where asked, begin a note and touch one field."""
    from datetime import datetime, timedelta, timezone

    from starlette.testclient import TestClient

    from woundfhir.page.app import application
    from woundfhir.page.folder import Folder
    from woundfhir.page.state import Page

    page = Page(Folder(folder), now=lambda: datetime(2026, 4, 7, 9, 30, tzinfo=timezone(timedelta(hours=-4))))
    browser = TestClient(application(page), base_url="http://testserver")
    browser.get(f"/open?t={page.once}")
    client, note = "/c/note.yaml", "/c/note.yaml/d/d1/1"
    if touch:
        browser.post("/who", data={"name": "Nurse One", "designation": "RN", "id": "rn-204", "back": "/"})
        browser.post(f"{client}/start", data={"wound": "1", "purpose": "dressing change"})
        field = {"seen": "0", "do": "", "_n": ["assessment.length"], "assessment.length": "4.2 cm"}
        return 0 if browser.post(note, data=field).status_code < 500 else 2
    seen = [browser.get(client).status_code, browser.get(note).status_code]
    begun = any(Path(folder).rglob("*.draft"))
    return "" if seen == [200, 200 if begun else 400] else f"the page answers {seen}"
