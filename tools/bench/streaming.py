"""Many clients: as a stream by size and by workers, tables of others, and on Spark."""

from __future__ import annotations

import filecmp
import os
import shutil
import tempfile
from importlib.util import find_spec
from pathlib import Path

import woundfhir
from bench.converting import decode, encode
from bench.figures import Figure, Report, best
from bench.histories import short_notes, shortest_notes
from bench.processes import Tree, Used, python, watched
from woundfhir import History

#: How the name of what is written ends.
_OUT = ".out.record.ndjson"
#: Up to so many visits a document is made of each client, and the checklist asked.
_FEW = 10_000


def stream(history: History, report: Report, full: bool = False) -> None:
    """Memory and time by the number of visits, and of workers."""
    sizes = (1_000, 2_000, 4_000) if report.quick else (1_000, 10_000, 50_000, *((200_000, 1_000_000) if full else ()))
    part = "Many clients with short notes, FHIR to records as a stream"
    used: dict[int, Used] = {}
    with tempfile.TemporaryDirectory() as name:
        for visits in sizes:
            path = Path(name, f"{visits}.ndjson")
            size = short_notes(history, path, visits) // 1024**2
            used[visits] = one = _converted(path)
            rate = f"{visits / one.cpu:,.0f} a s, {one.peak} MB"
            report.add(Figure(part, f"{visits:,} visits ({size:,} MB)", rate))
            if visits == sizes[-1] or path.stat().st_size < 1024**3:
                last = path
        small, large = used[sizes[0]], used[sizes[-1]]
        report.add(_flat(part, sizes, large.peak / used[sizes[1]].peak, large.peak))
        cpu = (large.cpu - small.cpu) / (sizes[-1] - sizes[0])
        middle = (used[sizes[1]].cpu - small.cpu) / (sizes[1] - sizes[0])
        report.add(Figure(part, "time a visit, the most by the fewer", f"{cpu * 1e3:.2f} ms", cpu / middle, "", 1.1))
        one, two = watched(*_conversion(last, 1)), watched(*_conversion(last, 2))
        cores = f"{len(os.sched_getaffinity(0))} cores"
        more = {"limit": 1.7, "at_least": True, "main": True, "against": "faster"}
        figure = Figure(part, f"two workers, on the clock ({cores})", f"{two.wall:.1f} s", one.wall / two.wall, **more)
        report.add(figure, lambda: _in_the_way(one, two))


def _in_the_way(one: Tree, two: Tree) -> list[str]:
    """What keeps two workers from twice the rate: the work of the first process, more work, cores that are not free."""
    return [
        f"{two.own / two.cpu:5.0%}  the first process, which finds each client's lines and writes",
        f"{two.cpu / one.cpu - 1:+5.0%}  CPU time in all, against one worker",
        f"{two.cpu / two.wall:5.2f}  cores at work on average; other work on the machine: {os.getloadavg()[0]:.1f}",
    ]


def there_and_back(history: History, report: Report, full: bool = False) -> None:
    """Records to FHIR and back by the number of visits, a check and a document of each client: memory and time."""
    sizes = (1_000, 10_000) if report.quick else (1_000, 10_000, 100_000, *((1_000_000,) if full else ()))
    part = "Records to FHIR and back as a stream, one worker"
    with tempfile.TemporaryDirectory() as name:
        for visits in sizes:
            records, fhir, back = (Path(name, f"{visits}.{form}.ndjson") for form in ("record", "fhir", "back"))
            small = shortest_notes(records, visits)
            out, home = _into(records, fhir, "ndjson"), _into(fhir, back, "record-ndjson")
            same = "the same" if filecmp.cmp(records, back, shallow=False) else "OTHER RECORDS"
            size = f"{visits:,} visits ({small / 1024**2:,.0f} MB, as FHIR {fhir.stat().st_size / 1024**2:,.0f} MB)"
            report.add(Figure(part, f"{size}: to FHIR", f"{out.cpu:.1f} s of processor, {out.peak} MB"))
            report.add(Figure(part, f"{size}: back, {same}", f"{home.cpu:.1f} s of processor, {home.peak} MB"))
            if visits <= _FEW:
                _judged_and_bundled(records, visits, report, part)
            for path in (records, fhir, back):
                path.unlink()


def _judged_and_bundled(records: Path, visits: int, report: Report, part: str) -> None:
    findings, documents = records.with_suffix(".findings"), records.with_suffix(".documents")
    documents.mkdir()
    checked = _run("check", records, "-o", findings, "--format", "ndjson", "--fail-on", "never")
    bundled = _run("bundle", records, "-o", documents)
    for what, used in (("check", checked), ("a document of each client", bundled)):
        report.add(Figure(part, f"{visits:,} visits: {what}", f"{used.cpu:.1f} s of processor, {used.peak} MB"))
    findings.unlink()
    shutil.rmtree(documents)


def _into(path: Path, out: Path, form: str) -> Used:
    return _run("convert", path, "-o", out, "--to", form)


def _run(*args: object) -> Used:
    return python("-m", "woundfhir", *map(str, args), "--workers", "1", "--no-progress")


def _flat(part: str, sizes: tuple[int, ...], ratio: float, peak: int) -> Figure:
    what = f"most memory of a process, {sizes[-1]:,} visits by {sizes[1]:,}"
    return Figure(part, what, f"{peak} MB", ratio, "", 1.5, main=True)


def _conversion(path: Path, workers: int) -> tuple[str, ...]:
    """The command, as arguments to Python."""
    more = ("--to", "record-ndjson", "--workers", str(workers), "--no-progress", "--force")
    return ("-m", "woundfhir", "convert", str(path), "-o", f"{path}{_OUT}", *more)


def _converted(path: Path) -> Used:
    used = python(*_conversion(path, 1))
    Path(f"{path}{_OUT}").unlink()  # a million visits take their room on the disk
    return used


def tables(history: History, report: Report) -> None:
    """A table of others, rows of 500 clients, against the records of the same."""
    count = 1_000 if report.quick else 10_000
    header = "Chart;Date;Wound;Size (cm);Pain"
    rows = [f"C{n % 500};{1 + n // 500 % 28:02d}/03/2026;heel;4,2 x {n % 90};{n % 11}/10" for n in range(count)]
    size = ["assessment.length", "assessment.width"]
    places = ("patient.identifiers", "visit.at", "wound.id", size, "assessment.pain_at_rest")
    named = [{"name": name, "to": to} for name, to in zip(header.split(";"), places, strict=True)]
    mapping = {"table": 1, "dates": "day first", "column": named}
    given = [dict(zip(header.split(";"), row.split(";"), strict=True)) for row in rows]
    own = [encode(one.history.data) for one in woundfhir.from_rows(given, mapping)]
    floor, cost = best(
        lambda: [History.of(decode(one)) for one in own], lambda: list(woundfhir.from_rows(given, mapping)), rounds=2
    )
    part = f"A table of others: {count:,} rows of {len(own)} clients"
    report.timed(part, "reading the records of the same (floor)", floor, floor, against="reading")
    work = {"work": lambda: list(woundfhir.from_rows(given, mapping))}
    report.timed(part, "from_rows", cost, floor, limit=8, main=True, against="reading", **work)


def spark(history: History, report: Report) -> None:
    """Spark with one core against one machine: what a visit costs beyond starting, and what memory it takes."""
    part = "Apache Spark, one core"
    if report.quick or find_spec("pyspark") is None:
        report.add(Figure(part, "not measured here", ""))
        return
    few, many = 2_000, 20_000
    os.environ.setdefault("PYSPARK_SUBMIT_ARGS", "--master local[1] --driver-memory 2g pyspark-shell")
    with tempfile.TemporaryDirectory() as name:
        paths = {visits: Path(name, f"{visits}.ndjson") for visits in (few, many)}
        sizes = {visits: short_notes(history, path, visits) for visits, path in paths.items()}
        ours = {visits: _converted(path) for visits, path in paths.items()}
        on = {
            visits: watched("-m", "woundfhir.spark", "convert", str(path), "-o", f"{path}.out", "--partitions", "4")
            for visits, path in paths.items()
        }
    each = (on[many].cpu - on[few].cpu) / (many - few)
    alone = (ours[many].cpu - ours[few].cpu) / (many - few)
    report.add(
        Figure(part, "FHIR to records: visits a second", f"{1 / each:,.0f}", each / alone, "time of one machine")
    )
    report.add(Figure(part, "starting, and planning its queries", f"{on[few].cpu - few * each:.0f} s"))
    report.add(Figure(part, "FHIR of 1,000 visits", f"{sizes[many] / many * 1000 / 1024**2:.1f} MB"))
    report.add(Figure(part, "most memory of Java (driver and executor in one)", f"{on[many].java:,} MB"))
    report.add(Figure(part, "most memory of a Python worker", f"{on[many].worker:,} MB"))
