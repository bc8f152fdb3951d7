"""A terminology server for tests, in a thread: a small tree of codes, answers as R4 gives them, faults on demand.

HL7 FHIR R4, operations CodeSystem/$validate-code, $lookup and $subsumes: their parameters and answers (from memory).
The codes are real ones of the catalogue; the tree above them is invented for the test.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

Json = Any
SCT = "http://snomed.info/sct"
WOUND, PRESSURE = "416462003", "399912005"
#: Code -> display, parents, inactive. Those from 9 on are invented.
CODES: dict[str, tuple[str, tuple[str, ...], bool]] = {
    WOUND: ("Wound", (), False),
    PRESSURE: ("Pressure injury", (WOUND,), False),
    "900000000001": ("Invented injury of the heel", ("900000000002",), False),
    "900000000002": ("Invented kind of pressure injury", (PRESSURE,), False),
    "900000000003": ("Invented wound of another kind", (WOUND,), True),
    "900000000004": ("Invented disorder that is no wound", (), False),
}


class PlayedTerminology:
    """What the server was asked, and what it is to do wrong."""

    def __init__(self) -> None:
        self.base = ""
        self.asked: list[str] = []
        self.headers: list[dict[str, str]] = []
        #: One of: html, 500, 401, 429, empty, slow, closed, nonsense, page.
        self.wrong = ""
        self.without_sct = False
        self.without_parents = False

    def answer(self, operation: str, asked: dict[str, str]) -> tuple[int, Json]:
        if asked.get("system", asked.get("url")) != SCT or self.without_sct:
            if operation == "$validate-code":
                return 200, parameters(result=False)
            return 404, {"resourceType": "OperationOutcome", "issue": [{"severity": "error", "code": "not-found"}]}
        if operation == "$subsumes":
            return 200, parameters(outcome=outcome(asked["codeA"], asked["codeB"]))
        known = CODES.get(asked["code"])
        if operation == "$validate-code":
            return 200, parameters(result=known is not None)
        if known is None:
            return 404, {"resourceType": "OperationOutcome", "issue": [{"severity": "error", "code": "not-found"}]}
        made = parameters(name="played", display=known[0])
        properties = [{"name": "code", "valueCode": "inactive"}, {"name": "value", "valueBoolean": known[2]}]
        made["parameter"].append({"name": "property", "part": properties})
        for parent in () if self.without_parents else known[1]:
            part = [{"name": "code", "valueCode": "parent"}, {"name": "value", "valueCode": parent}]
            made["parameter"].append({"name": "property", "part": part})
        return 200, made


def outcome(wide: str, narrow: str) -> str:
    if wide == narrow:
        return "equivalent"
    if wide in above(narrow):
        return "subsumes"
    return "subsumed-by" if narrow in above(wide) else "not-subsumed"


def above(code: str) -> set[str]:
    parents = CODES[code][1] if code in CODES else ()
    return {*parents, *(one for parent in parents for one in above(parent))}


def parameters(**values: Json) -> Json:
    kinds = {bool: "valueBoolean", str: "valueString"}
    return {
        "resourceType": "Parameters",
        "parameter": [{"name": name, kinds[type(value)]: value} for name, value in values.items()],
    }


@contextmanager
def playing() -> Iterator[PlayedTerminology]:
    """Start it on this machine; stop it."""
    played = PlayedTerminology()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            parts = urlsplit(self.path)
            played.asked.append(self.path)
            played.headers.append(dict(self.headers))
            if played.wrong == "closed":
                self.connection.close()
                return
            if played.wrong == "slow":
                time.sleep(2)
            status, body = played.answer(
                parts.path.rsplit("/", 1)[1], {key: values[0] for key, values in parse_qs(parts.query).items()}
            )
            content, kind = json.dumps(body).encode(), "application/fhir+json"
            if played.wrong in ("html", "page"):
                content, kind = b"<html>sign in</html>", "text/html"
            elif played.wrong == "empty":
                content = b"{}"
            elif played.wrong == "nonsense":
                content = b'{"resourceType": "Parameters", "parameter": [1, {"name": "property", "part": 7}]}'
            status = {"500": 500, "401": 401, "429": 429, "page": 404}.get(played.wrong, status)
            self.send_response(status)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(content)))
            with suppress(BrokenPipeError):  # whoever asked has gone
                self.end_headers()
                self.wfile.write(content)

        def log_message(self, *args: object) -> None:
            """Nothing is logged."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    played.base = f"http://127.0.0.1:{server.server_port}/fhir"
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield played
    finally:
        server.shutdown()
        server.server_close()
