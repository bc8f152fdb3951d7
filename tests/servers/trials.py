"""What the lanes of the servers share: a client of a story, and what is done with the record."""

from __future__ import annotations

import base64
import copy
import re
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx

from tests.paths import ROOT
from woundfhir.handover import bundle
from woundfhir.intake.source import read_all
from woundfhir.r4 import jsonio
from woundfhir.record import History
from woundfhir.server.connection import JSON, Connection, base_of
from woundfhir.server.fetching import fetch
from woundfhir.server.receipt import read
from woundfhir.server.sending import send
from woundfhir.server.sent import Sent

Json = Any
SYSTEM = "urn:example:lane"


def client(name: str = "leg-and-sacrum") -> History:
    """The record of a story, of a client of its own."""
    (found,) = read_all([str(ROOT / "examples" / name / "story.yaml")])
    data = copy.deepcopy(found.history.data)
    data["patient"]["identifiers"] = [{"system": SYSTEM, "value": uuid.uuid4().hex}]
    return History.of(data)


def amended(history: History, change: Callable[[Json], object]) -> History:
    data = copy.deepcopy(history.data)
    change(data)
    return History.of(data)


def put(base: str, history: History, receipt: Path | None = None, **more: Any) -> Sent:
    server = Connection(base_of(base))
    return send(history, server, read(receipt, server.base), **more)


def back(base: str, history: History, **more: Any) -> Json:
    found = fetch(Connection(base_of(base)), f"{SYSTEM}|{history.patient['identifiers'][0]['value']}", **more)
    assert not found.losses and not found.history.extra
    return found.history.data


def total(base: str, query: str) -> int:
    answer = httpx.get(f"{base}/{query}", params={"_summary": "count"} if "?" not in query else None)
    return int(answer.json()["total"])


def there(base: str, query: str) -> list[Json]:
    return [one["resource"] for one in httpx.get(f"{base}/{query}").json().get("entry", ())]


def provided(base: str, history: History) -> str:
    """Post MHD's Provide Document Bundle, find the document as it was, and return the address in its attachment."""
    made = bundle(history, "mhd")
    answer = httpx.post(base, content=jsonio.encode(made), headers={"Content-Type": JSON}, timeout=60)
    assert answer.status_code == 200, answer.text
    said = answer.json()
    assert said["type"] == "transaction-response" and len(said["entry"]) == len(made["entry"])
    assert all(one["response"]["status"].startswith("201") for one in said["entry"])
    patient = there(base, f"Patient?identifier={SYSTEM}|{history.patient['identifiers'][0]['value']}")[0]["id"]
    (found,) = there(base, f"DocumentReference?patient={patient}")
    attachment = found["content"][0]["attachment"]
    place = re.search(r"Binary/[^/]+", said["entry"][2]["response"]["location"])
    assert place is not None
    answer = httpx.get(f"{base}/{place[0]}", headers={"Accept": JSON})
    raw = answer.json()  # some give the resource, some the bytes in it
    content = base64.b64decode(raw["data"]) if raw["resourceType"] == "Binary" else answer.content
    assert content == jsonio.encode_readable(bundle(history)) and len(content) == attachment["size"]
    return attachment["url"]
