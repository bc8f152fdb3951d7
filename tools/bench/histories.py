"""Histories of any length, made of the invented story."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import woundfhir
from woundfhir import History

Json = dict[str, Any]


def long(history: History, visits: list[Json]) -> History:
    """Return a history with other visits."""
    return History.of({**history.data, "visits": visits})


def daily(history: History, count: int) -> list[Json]:
    """Return daily visits with one wound that becomes smaller."""
    model = next(v for v in history.visits if any("length" in e.get("assessment", {}) for e in v["wounds"]))
    out = []
    for number in range(count):
        entry = dict(model["wounds"][0])
        size = {"length": f"{9 - number * 0.002:.2f} cm", "width": f"{7 - number * 0.0015:.2f} cm"}
        entry["assessment"] = {**entry["assessment"], **size}
        out.append({**model, "id": f"D{number}", **_times(date(2018, 1, 1), number), "wounds": [entry]})
    return out


def in_turn(history: History, count: int) -> list[Json]:
    """Return the visits of the story again and again, a day apart."""
    out = []
    for number in range(count):
        model = {key: value for key, value in history.visits[number % len(history.visits)].items() if key != "replaces"}
        out.append({**model, "id": f"C{number}", "status": "final", **_times(date(2018, 1, 1), number)})
    return out


def _times(first: date, number: int) -> dict[str, str]:
    day = (first + timedelta(days=number)).isoformat()
    return {"at": f"{day}T10:00:00-05:00", "written": f"{day}T10:30:00-05:00"}


def short_notes(history: History, path: Path, visits: int) -> int:
    """Write the FHIR lines of clients with eight short notes each; return the size in bytes."""
    with path.open("w", encoding="utf-8") as file:
        file.writelines(_clients(history, visits))
    return path.stat().st_size


def shortest_notes(path: Path, visits: int) -> int:
    """Write the records of clients with eight notes each, a size and a pain score in each note; return the bytes."""
    with path.open("w", encoding="utf-8") as file:
        for number in range(visits // 8):
            file.write(json.dumps(_shortest(number), separators=(",", ":")) + "\n")
    return path.stat().st_size


def _shortest(client: int) -> Json:
    nurse = {"id": f"rn-{client % 300}", "name": "Nurse (invented)", "designation": "RN"}
    visits = []
    for number in range(8):
        seen = {
            "length": f"{9 - number * 0.4 - (client % 7) * 0.1:.1f} cm",
            "width": f"{5 - number * 0.3:.1f} cm",
            "pain_at_rest": str((client + number) % 11),
        }
        at = f"2026-{1 + number // 4:02d}-{1 + 7 * (number % 4):02d}T10:00:00-05:00"
        head = {"id": f"V{number}", "at": at, "by": nurse, "status": "final", "setting": "home"}
        visits.append({**head, "purpose": ["dressing change"], "wounds": [{"wound": "W1", "assessment": seen}]})
    number_of = {"system": "https://example.org/numbers", "value": str(10_000_000 + 13 * client)}
    wound = {"id": "W1", "status": "open", "kind": "venous leg ulcer", "site": "lower leg", "side": "left"}
    return {"woundfhir": 1, "patient": {"identifiers": [number_of]}, "wounds": [wound], "visits": visits}


def _clients(history: History, visits: int) -> Iterator[str]:
    model = daily(history, 8)
    keys = ("length", "width", "pain_at_rest", "exudate_amount")
    for visit in model:
        entry = visit["wounds"][0]
        seen = {key: entry["assessment"][key] for key in keys if key in entry["assessment"]}
        visit["wounds"] = [{"wound": entry["wound"], "assessment": seen}]
    wounds = [one for one in history.wounds if one["id"] == model[0]["wounds"][0]["wound"]]
    for number in range(visits // 8):
        patient = {"identifiers": [{"system": "https://example.org/numbers", "value": str(number + 1)}]}
        data = {"woundfhir": 1, "patient": patient, "wounds": wounds, "visits": model}
        yield woundfhir.dumps(History.of(data), format="ndjson")
