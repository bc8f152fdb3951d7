"""Ratios in one run: what the toolkit's work costs against the floor that any Python program pays for the same bytes.

Usage: ``python tools/benchmark.py [--quick]``. Nothing here is a test: figures depend on the machine, ratios less so.
Each pair is measured in turns and the best of its turns is taken, so that a busy machine slows both alike.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import msgspec

import woundfhir
from woundfhir import History
from woundfhir.demo import story

Work = Callable[[], Any]
encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode
ROUNDS = 5 if "--quick" in sys.argv else 15


def best(*works: Work, rounds: int = ROUNDS) -> list[float]:
    """Return the best time of each piece of work, measured in turns, in seconds."""
    found = [float("inf")] * len(works)
    for _ in range(rounds):
        for index, work in enumerate(works):
            start = time.perf_counter()
            work()
            found[index] = min(found[index], time.perf_counter() - start)
    return found


def line(what: str, cost: float, floor: float, aim: str) -> None:
    """Print one ratio."""
    print(f"{what:<58} {cost * 1e3:9.2f} ms {cost / floor:8.1f} x   (aim: {aim})")


def conversion(history: History) -> None:
    """Record -> FHIR bytes and back, against msgspec alone on the same bytes and against fhir.resources."""
    resources = woundfhir.to_fhir(history)
    content = encode(resources)
    lines = woundfhir.dumps(history, format="ndjson")
    floor_out, out, text = best(
        lambda: encode(resources),
        lambda: encode(woundfhir.to_fhir(history)),
        lambda: woundfhir.dumps(history, format="ndjson"),
    )
    floor_in, back, loaded = best(
        lambda: decode(content), lambda: woundfhir.from_fhir(decode(content)), lambda: woundfhir.loads(lines)
    )
    print(f"{len(resources)} resources, {len(content):,} bytes")
    line("msgspec encode of the same resources (floor)", floor_out, floor_out, "1")
    line("record -> FHIR bytes (to_fhir, then encode)", out, floor_out, "at most 4")
    line("record -> FHIR text (dumps, ndjson)", text, floor_out, "at most 4")
    line("msgspec decode of the same bytes (floor)", floor_in, floor_in, "1")
    line("FHIR bytes -> record (decode, then from_fhir)", back, floor_in, "at most 6")
    line("FHIR text -> record (loads, ndjson)", loaded, floor_in, "at most 6")
    models_in, models_out = _models(resources)
    line("the same resources into fhir.resources models", models_in, floor_in, "for comparison")
    line("and out of them as JSON", models_out, floor_out, "for comparison")


def _models(resources: list[dict[str, Any]]) -> tuple[float, float]:
    from fhir.resources.R4B import get_fhir_model_class

    texts = [(get_fhir_model_class(r["resourceType"]), encode(r)) for r in resources]
    models = [kind.model_validate_json(text) for kind, text in texts]
    read, written = best(
        lambda: [kind.model_validate_json(text) for kind, text in texts],
        lambda: [model.model_dump_json() for model in models],
        rounds=3,
    )
    return read, written


def bundling(history: History) -> None:
    """A document of a history against its resources, and the memory of one of 1,800 visits."""
    long = History.of({**history.data, "visits": _daily(history, 100 if "--quick" in sys.argv else 300)})
    made, document = best(lambda: woundfhir.to_fhir(long), lambda: woundfhir.bundle(long), rounds=3)
    line(f"to_fhir, {len(long.visits)} visits (floor)", made, made, "1")
    line("bundle of them, a document", document, made, "at most 3")
    if "--quick" not in sys.argv:
        woundfhir.bundle(History.of({**history.data, "visits": _daily(history, 1_800)}))
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024  # Linux counts in kB
        print(f"most memory so far, 1,800 visits bundled: {peak:,.0f} MB (aim: under 1,000)")


def growing(history: History) -> None:
    """Checking ten times the visits against checking them once."""
    few, many = (30, 300) if "--quick" in sys.argv else (300, 3_000)
    short, long = (History.of({**history.data, "visits": _daily(history, count)}) for count in (few, many))
    once, ten = best(lambda: woundfhir.check(short), lambda: woundfhir.check(long), rounds=2)
    line(f"check, {few} visits (floor)", once, once, "1")
    line(f"check, {many} visits", ten, once, "at most 11")


def checking(history: History) -> None:
    """Checking 10,000 visit notes against reading them."""
    notes = 1_000 if "--quick" in sys.argv else 10_000
    copies = max(1, notes // len(history.visits))
    content = encode(history.data)
    histories = [History.of(decode(content)) for _ in range(copies)]
    reading, checked = best(
        lambda: [History.of(decode(content)) for _ in range(copies)],
        lambda: [woundfhir.check(one) for one in histories],
        rounds=3,
    )
    line(f"reading {copies * len(history.visits):,} visit notes (floor)", reading, reading, "1")
    line("checking them", checked, reading, "at most 5")


def course(history: History) -> None:
    """A five-year daily history (1,800 visits): trend computed and drawn against reading it."""
    from woundfhir.handover.course import course_of, pictures

    content = encode({**history.data, "visits": _daily(history, 1_800)})
    long = History.of(decode(content))
    reading, drawn = best(
        lambda: History.of(decode(content)), lambda: pictures(long, course_of(long, long.wounds[0]["id"])), rounds=3
    )
    line("reading 1,800 daily visits (floor)", reading, reading, "1")
    line("trend and chart of them", drawn, reading, "at most 2")


def tables(history: History) -> None:
    """A table of others, 10,000 rows of 500 clients, against the record's own table of the same."""
    count = 1_000 if "--quick" in sys.argv else 10_000
    header = "Chart;Date;Wound;Size (cm);Pain"
    rows = [f"C{n % 500};{1 + n // 500 % 28:02d}/03/2026;heel;4,2 x {n % 90};{n % 11}/10" for n in range(count)]
    content = "\n".join([header, *rows]).encode()
    size = ["assessment.length", "assessment.width"]
    places = ("patient.identifiers", "visit.at", "wound.id", size, "assessment.pain_at_rest")
    named = [{"name": name, "to": to} for name, to in zip(header.split(";"), places, strict=True)]
    mapping = {"table": 1, "dates": "day first", "column": named}
    given = [dict(zip(header.split(";"), row.split(";"), strict=True)) for row in content.decode().splitlines()[1:]]
    clients = [one.history for one in woundfhir.from_rows(given, mapping)]
    own = [encode(one.data) for one in clients]
    floor, cost = best(
        lambda: [History.of(decode(one)) for one in own], lambda: list(woundfhir.from_rows(given, mapping)), rounds=2
    )
    line(f"records of {len(clients)} clients with {count:,} visits, read (floor)", floor, floor, "1")
    line("the same out of a table of others", cost, floor, "at most 8")


def _daily(history: History, count: int) -> list[dict[str, Any]]:
    from datetime import date, timedelta

    model = next(v for v in history.visits if any("length" in e.get("assessment", {}) for e in v["wounds"]))
    out = []
    for number in range(count):
        entry = dict(model["wounds"][0])
        entry["assessment"] = {
            **entry["assessment"],
            "length": f"{9 - number * 0.004:.2f} cm",
            "width": f"{6 - number * 0.003:.2f} cm",
        }
        day = (date(2021, 1, 1) + timedelta(days=number)).isoformat()
        out.append(
            {
                **model,
                "id": f"D{number}",
                "at": f"{day}T10:00:00-05:00",
                "written": f"{day}T10:30:00-05:00",
                "wounds": [entry],
            }
        )
    return out


if __name__ == "__main__":
    told = woundfhir.loads(story())
    conversion(told)
    for part in (bundling, growing, checking, course, tables):
        try:
            part(told)
        except ImportError as error:
            print(f"{part.__name__}: not measured ({error})")
