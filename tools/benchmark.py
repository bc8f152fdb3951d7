"""Ratios in one run: what the toolkit's work costs against the floor that any Python program pays for the same bytes.

Usage: ``python tools/benchmark.py [--quick]``. Nothing here is a test: figures depend on the machine, ratios less so.
Times are CPU time of this process, so that other work on the machine counts little; each pair is measured in turns and
the best of its turns is taken. Every call is one that users have. Peak memory is that of a process of its own.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Any

import msgspec

import woundfhir
from woundfhir import History
from woundfhir.demo import story

Work = Callable[[], Any]
encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode
QUICK = "--quick" in sys.argv
ROUNDS = 5 if QUICK else 15


def best(*works: Work, rounds: int = ROUNDS) -> list[float]:
    """Return the best time of each piece of work, measured in turns, in seconds of CPU time."""
    found = [float("inf")] * len(works)
    for _ in range(rounds):
        for index, work in enumerate(works):
            start = time.process_time()
            work()
            found[index] = min(found[index], time.process_time() - start)
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
    line("record -> FHIR dicts of one's own (to_fhir), then encode", out, floor_out, "at most 4")
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
    """A document of a history against its resources, and the memory that one of 1,800 visits takes."""
    long = History.of({**history.data, "visits": _daily(history, 100 if QUICK else 300)})
    made, document = best(lambda: woundfhir.to_fhir(long), lambda: woundfhir.bundle(long), rounds=3)
    line(f"to_fhir, {len(long.visits)} visits (floor)", made, made, "1")
    line("bundle of them, a document", document, made, "at most 3")
    peak = subprocess.run([sys.executable, __file__, "--memory", "1800"], capture_output=True, check=True).stdout
    print(f"most memory of a process that bundles 1,800 daily visits: {int(peak):,} MB (aim: under 1,000)")


def memory(history: History, visits: int) -> int:
    """Bundle a long history and return the most memory that this process had, in MB."""
    woundfhir.bundle(History.of({**history.data, "visits": _daily(history, visits)}))
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024  # Linux counts in kB


def growing(history: History) -> None:
    """Each verb by the length of a history: milliseconds a visit; the last figure is the longest by the 100."""
    lengths = (10, 100, 300) if QUICK else (10, 100, 1_000, 3_000)
    print(f"{'CPU time a visit, by the number of visits':<58}" + "".join(f"{one:>10,}" for one in lengths))
    for kind, visits in (("daily", _daily), ("all kinds of notes", _in_turn)):
        for name, verb in _VERBS.items():
            costs = []
            for length in lengths:
                long = History.of({**history.data, "visits": visits(history, length)})
                costs.append(best(partial(verb, long), rounds=2)[0] / length)
            figures = "".join(f"{cost * 1e3:7.2f} ms" for cost in costs)
            print(f"{f'{name}, {kind}':<58}{figures} {costs[-1] / costs[1]:8.2f} x   (aim: at most 1.1)")


def _trend(history: History) -> Any:
    from woundfhir.handover.course import course_of, pictures

    return pictures(history, course_of(history, history.wounds[0]["id"]))


def _without_last(history: History) -> History:
    return History.of({**history.data, "visits": history.data["visits"][:-1]})


_VERBS: dict[str, Callable[[History], Any]] = {
    "check": woundfhir.check,
    "bundle": woundfhir.bundle,
    "trend": _trend,
    "merge": lambda long: woundfhir.merge(_without_last(long), long),
    "compare": lambda long: woundfhir.compare(_without_last(long), long),
}


def checking(history: History) -> None:
    """Checking 10,000 visit notes against reading them."""
    notes = 1_000 if QUICK else 10_000
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


def page(history: History) -> None:
    """The nurse's page on a five-year history: a touch, and what is missing after it, against a check of the story."""
    import tempfile
    import warnings
    from pathlib import Path

    warnings.simplefilter("ignore")  # Starlette's own, about its test client
    from starlette.testclient import TestClient

    from woundfhir.page.app import application
    from woundfhir.page.folder import Folder
    from woundfhir.page.state import Page

    long = History.of({**history.data, "visits": _in_turn(history, 1_800)})
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "long.yaml").write_text(woundfhir.dumps(long, format="record"), "utf-8")
        shown = Page(Folder(Path(name)))
        browser = TestClient(application(shown), base_url="http://localhost")
        browser.get(f"/open?t={shown.once}")
        browser.post("/c/long.yaml/start", data={"wound": "1", "purpose": "dressing change"})
        note = "/c/long.yaml/d/d1/1"
        words = ["none", "faint"]

        def touch() -> None:
            words.reverse()
            sent = {"seen": "1000000", "_n": "assessment.odour", "assessment.odour": words[0], "step": "look"}
            assert browser.post(note, data=sent, headers={"X-Part": "1"}).status_code == 200

        work = (lambda: woundfhir.check(history), touch, lambda: browser.get(f"{note}/lacks"), lambda: browser.get("/"))
        checked, touched, lacks, listed = best(*work, rounds=5)
    line("one check of the story's 8 notes (floor)", checked, checked, "1")
    line("a touch on the page, 1,800 visits in the record", touched, checked, "under 50 ms")
    line("what is missing after it, in the light of all of them", lacks, checked, "under 50 ms")
    line("the list of clients", listed, checked, "under 50 ms")


def tables(history: History) -> None:
    """A table of others, 10,000 rows of 500 clients, against the record's own table of the same."""
    count = 1_000 if QUICK else 10_000
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


def bulk(history: History) -> None:
    """Converting many clients with short notes as a stream: memory and time by the number of visits, and of workers."""
    sizes = (1_000, 5_000) if QUICK else (1_000, 10_000, 100_000)
    with tempfile.TemporaryDirectory() as name:
        for visits in sizes:
            path = Path(name, f"{visits}.ndjson")
            with path.open("w", encoding="utf-8") as file:
                file.writelines(_short_notes(history, visits))
            for workers in (1, 2):
                given = [sys.executable, __file__, "--stream", str(path), str(workers)]
                peak, cpu, wall = subprocess.run(given, capture_output=True, check=True).stdout.decode().split()
                size = path.stat().st_size // 1024**2
                what = f"{visits:,} visits ({size:,} MB of FHIR) to records, workers {workers}"
                print(f"{what:<58} {peak:>5} MB at most a process, CPU {cpu} s, {wall} s  (aim: under 200 MB, flat)")
            path.unlink()


def stream(path: str, workers: str) -> str:
    """Convert a file and return the most memory of a process (MB), CPU time and time on the clock (seconds)."""
    from woundfhir.cli import run

    start = time.monotonic()
    out = f"{path}.out.record.ndjson"
    assert run(["convert", path, "-o", out, "--to", "record-ndjson", "--workers", workers]) == 0
    Path(out).unlink()
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    cpu = sum(one.ru_utime + one.ru_stime for one in used)
    return f"{max(one.ru_maxrss for one in used) // 1024} {cpu:.1f} {time.monotonic() - start:.1f}"


def _short_notes(history: History, visits: int) -> Iterator[str]:
    """Yield the FHIR lines of clients with eight short notes each."""
    model = _daily(history, 8)
    keys = ("length", "width", "pain_at_rest", "exudate_amount")
    for visit in model:
        entry = visit["wounds"][0]
        seen = {key: entry["assessment"][key] for key in keys if key in entry["assessment"]}
        visit["wounds"] = [{"wound": entry["wound"], "assessment": seen}]
    for number in range(visits // 8):
        patient = {"identifiers": [{"system": "https://example.org/numbers", "value": str(number + 1)}]}
        wounds = [one for one in history.wounds if one["id"] == model[0]["wounds"][0]["wound"]]
        data = {"woundfhir": 1, "patient": patient, "wounds": wounds, "visits": model}
        yield woundfhir.dumps(History.of(data), format="ndjson")


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


def _in_turn(history: History, count: int) -> list[dict[str, Any]]:
    """The visits of the story again and again, a day apart."""
    from datetime import date, timedelta

    out = []
    for number in range(count):
        day = (date(2018, 1, 1) + timedelta(days=number)).isoformat()
        times = {"at": f"{day}T10:00:00-05:00", "written": f"{day}T10:30:00-05:00"}
        model = history.visits[number % len(history.visits)]
        out.append(
            {**{k: v for k, v in model.items() if k != "replaces"}, "id": f"C{number}", "status": "final", **times}
        )
    return out


if __name__ == "__main__":
    if "--stream" in sys.argv:
        print(stream(*sys.argv[-2:]))
        sys.exit()
    story_read = woundfhir.loads(story())
    if "--memory" in sys.argv:
        print(memory(story_read, int(sys.argv[-1])))
        sys.exit()
    conversion(story_read)
    for part in (bundling, growing, checking, course, tables, bulk, page):
        try:
            part(story_read)
        except ImportError as error:
            print(f"{part.__name__}: not measured ({error})")
