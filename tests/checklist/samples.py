"""Small records for the tests of the checklist: one complete invented note, changed by each test as it needs."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from woundfhir.demo import story
from woundfhir.intake.given import read
from woundfhir.record import History

Json = Any


def demo() -> History:
    """The invented story that the package carries."""
    return read(story()).history


def record(*visits: Json, wounds: Json = None, **patient: Json) -> History:
    """A record of one wound and the visits given; a visit gets an id, a final status and a time where it has none."""
    made = []
    for number, visit in enumerate(visits, 1):
        whole = {"id": f"V{number}", "at": f"2026-03-{number:02d}T10:00:00-05:00", "status": "final", **deepcopy(visit)}
        made.append(whole)
    return History.of(
        {
            "woundfhir": 1,
            "patient": {"born": "1948-03", **patient},
            "wounds": wounds or [{"id": "W1", "status": "open", "kind": "venous leg ulcer", "site": "lower leg"}],
            "visits": made,
        }
    )


def entry(wound: str = "W1", **groups: Json) -> Json:
    """One wound at a visit."""
    return {"wound": wound, **groups}


def visit(*entries: Json, **more: Json) -> Json:
    """One visit."""
    return {"wounds": list(entries) or [entry()], **more}
