"""What each verb costs to start, and by the length of a history."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import woundfhir
from bench.converting import decode, encode
from bench.figures import Figure, Report, best, grown, shown
from bench.histories import daily, in_turn, long
from bench.processes import python
from woundfhir import History


def starting(_: History, report: Report) -> None:
    """CPU time of each verb's help, against Python with click."""
    from woundfhir.cli import VERBS

    part = "Starting: CPU time of a verb's help"
    names = ("check", "convert", "bundle") if report.quick else tuple(VERBS)
    rounds = 1 if report.quick else 2
    floor = min(python("-c", "import click").cpu for _ in range(3))
    costs = {name: min(python("-m", "woundfhir", name, "--help").cpu for _ in range(rounds)) for name in names}
    report.timed(part, "python -c 'import click' (floor)", floor, floor, against="click")
    for name, cost in sorted(costs.items(), key=lambda one: -one[1]):
        report.timed(part, name, cost, floor, against="click")


def growing(history: History, report: Report) -> None:
    """Each verb by the length of a history: CPU time a visit; the ratio is the longest by the 100."""
    lengths = (10, 100, 300) if report.quick else (10, 100, 1_000, 3_000)
    for kind, visits in (("daily visits", daily), ("all kinds of notes", in_turn)):
        part = f"Time a visit by the number of visits ({', '.join(f'{one:,}' for one in lengths)}), {kind}"
        steepest: Figure | None = None
        for name, verb in _VERBS.items():
            works = [partial(verb, long(history, visits(history, length))) for length in lengths]
            costs = [best(work, rounds=3)[0] / length for work, length in zip(works, lengths, strict=True)]
            figures = " ".join(f"{cost * 1e3:.2f}" for cost in costs)
            ratio = costs[-1] / costs[1]
            more = {"against": f"at {lengths[1]}", "limit": 1.1}
            figure = Figure(part, name, f"{figures} ms", ratio, **more)
            report.add(figure, partial(grown, works[1], lengths[1], works[2], lengths[2]))
            if steepest is None or ratio > (steepest.ratio or 0):
                steepest = figure
        if steepest is not None:
            found = dict(report.missed).get(steepest, [])
            whole = replace(steepest, what=f"the steepest of them, {steepest.what}", main=True)
            report.add(whole, partial(list, found))


def _trend(history: History) -> Any:
    from woundfhir.handover.course import course_of, pictures

    return pictures(history, course_of(history, history.wounds[0]["id"]))


def _without_last(history: History) -> History:
    return long(history, history.data["visits"][:-1])


_VERBS: dict[str, Callable[[History], Any]] = {
    "check": woundfhir.check,
    "bundle": woundfhir.bundle,
    "trend": _trend,
    "merge": lambda given: woundfhir.merge(_without_last(given), given),
    "compare": lambda given: woundfhir.compare(_without_last(given), given),
}


def bundling(history: History, report: Report) -> None:
    """A document of a five-year history against msgspec on the same bytes, and the memory that it takes."""
    visits = 300 if report.quick else 1_800
    part = f"A document of {visits:,} daily visits"
    given = long(history, daily(history, visits))
    made = woundfhir.bundle(given)
    floor, document = best(lambda: encode(made), lambda: encode(woundfhir.bundle(given)), rounds=2)
    report.timed(part, "msgspec writes its bytes (floor)", floor, floor, against="msgspec")
    more = {"limit": 5, "main": True, "against": "msgspec", "work": lambda: woundfhir.bundle(given)}
    report.timed(part, "bundle, and its bytes", document, floor, **more)
    with tempfile.TemporaryDirectory() as name:
        path = Path(name, "long.json")
        path.write_bytes(encode(given.data))
        used = python("-m", "woundfhir", "bundle", str(path), "-o", str(Path(name, "out.json")))
        report.add(Figure(part, "woundfhir bundle: most memory", f"{used.peak:,} MB", used.peak / 1_000, "1 GB", 1))


def reading(history: History, report: Report) -> None:
    """Checking and drawing against reading the same notes."""
    part = "Checking and drawing, against reading the same notes"
    copies = 100 if report.quick else 1_000
    content = encode(history.data)
    histories = [History.of(decode(content)) for _ in range(copies)]
    read, checked = best(
        lambda: [History.of(decode(content)) for _ in range(copies)],
        lambda: [woundfhir.check(one) for one in histories],
        rounds=2,
    )
    count = copies * len(history.visits)
    one = histories[0]
    report.timed(part, f"reading {count:,} notes (floor)", read, read, against="reading")
    report.timed(
        part, "checking them", checked, read, limit=5, main=True, against="reading", work=lambda: woundfhir.check(one)
    )
    years = encode(long(history, daily(history, 1_800)).data)
    given = History.of(decode(years))
    read, drawn = best(lambda: History.of(decode(years)), lambda: _trend(given), rounds=2)
    more = {"limit": 2, "main": True, "against": "reading", "work": lambda: _trend(given)}
    report.timed(part, f"trend and chart of 1,800 daily visits (reading: {shown(read)})", drawn, read, **more)
