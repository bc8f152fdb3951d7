"""The queries of ``examples/tables``, run by DuckDB, against the same worked out in Python from the records."""

from __future__ import annotations

import os
from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from statistics import median
from typing import Any

import pytest

import woundfhir
from tests.flat import many
from tests.paths import ROOT
from woundfhir import History
from woundfhir.audit import Audit
from woundfhir.catalogue import catalogue
from woundfhir.chart import WoundView, open_record
from woundfhir.checklist.policy import load
from woundfhir.checklist.site import compose
from woundfhir.cli import run
from woundfhir.flat import tables
from woundfhir.measures.course import course

duckdb = pytest.importorskip("duckdb")
pytest.importorskip("pyarrow")
Json = Any
QUERIES = ROOT / "examples" / "tables"


@pytest.fixture(scope="module")
def histories() -> list[History]:
    stories = [
        woundfhir.read(ROOT / "examples" / one / "story.yaml").history for one in ("leg-and-sacrum", "skin-tear")
    ]
    return [*stories, *(History.of(raw) for raw in many.records(150, seed=3))]


@pytest.fixture(scope="module")
def folder(histories: list[History], tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("tables")
    records = place / "all.record.ndjson"
    records.write_text("".join(f"{one.json()}\n" for one in histories), "utf-8")
    assert run(["convert", str(records), "-t", "parquet", "-o", str(place), "--quiet"]) == 0
    return place


def asked(folder: Path, name: str) -> list[Json]:
    """The rows of a query, which names its files as they stand in the folder."""
    here = Path.cwd()
    os.chdir(folder)
    try:
        with duckdb.connect() as base:
            found: list[Json] = base.execute((QUERIES / f"{name}.sql").read_text("utf-8")).fetchall()
            return found
    finally:
        os.chdir(here)


def week(written: object) -> str | None:
    """The week of a day as written; None for a month or a year."""
    text = str(written)
    if len(text) < 10:
        return None
    year, number, _ = date.fromisoformat(text[:10]).isocalendar()
    return f"{year}-W{number:02d}"


def word(path: str, written: str | None) -> str:
    answers = catalogue().concept(path).answers
    found = answers.find(written) if answers is not None else None
    return found.word if found else written or "not written"


def wounds(histories: list[History]) -> Iterator[tuple[str, WoundView, History]]:
    for one in histories:
        for view in open_record(one).wounds:
            if not view.in_error:
                yield word("wound.kind", view.data.get("kind")), view, one


def test_supply_use_by_week(folder: Path, histories: list[History]) -> None:
    """In pieces from the plain records; what is no number of pieces is counted beside it."""
    pieces: Counter[Any] = Counter()
    other: Counter[Any] = Counter()
    for one in histories:
        for visit, entry in many.entries(one.data):
            for used in entry.get("supplies", ()):
                key = week(visit.get("at")), word("supply.item", used.get("item"))
                written = used.get("quantity", "")
                pieces[key] += int(written) if written.isdigit() else 0
                other[key] += not written.isdigit()
    found = asked(folder, "supplies-by-week")
    assert {row[:2]: int(row[2] or 0) for row in found} == pieces and sum(pieces.values()) > 300
    assert {row[:2]: row[3] for row in found} == other


def test_the_share_of_complete_notes_by_week_is_that_of_audit(folder: Path, histories: list[History]) -> None:
    audit = Audit(compose(None), load(None))
    for one in histories:
        audit.take(one)
    wanted = {name: (count.notes, count.complete) for name, count in audit.parts["week"].items()}
    found = {row[0] or "no whole day": row[1:3] for row in asked(folder, "complete-notes-by-week")}
    days = {name: counts for name, counts in wanted.items() if name.startswith("20")}
    assert {name: counts for name, counts in found.items() if name != "no whole day"} == days and len(days) > 5
    assert sum(row[0] for row in found.values()) == audit.total.notes
    assert sum(row[1] for row in found.values()) == audit.total.complete


def test_healing_by_kind_is_that_of_trend(folder: Path, histories: list[History]) -> None:
    count: Counter[str] = Counter()
    closed: Counter[str] = Counter()
    changes: dict[str, list[float]] = defaultdict(list)
    for kind, view, one in wounds(histories):
        count[kind] += 1
        closed[kind] += view.closed
        trend = course(one, view.id)
        if trend.since_first is not None and trend.stretch[-1].certain and trend.stretch[0].certain:
            changes[kind].append(float(trend.since_first))
    found = {row[0]: row[1:] for row in asked(folder, "healing-by-kind")}
    assert {kind: row[0] for kind, row in found.items()} == count
    assert {kind: row[1] for kind, row in found.items()} == closed
    for kind, values in changes.items():
        assert float(found[kind][2]) == pytest.approx(median(values), abs=0.06), kind


def test_median_days_to_closure(folder: Path, histories: list[History]) -> None:
    days: dict[str, list[int]] = defaultdict(list)
    for kind, view, _ in wounds(histories):
        if view.closed and view.data.get("closed"):
            start = view.episode[0].day if view.episode else None
            if start is not None:
                days[kind].append((date.fromisoformat(view.data["closed"][:10]) - start).days)
    found = {row[0]: row for row in asked(folder, "days-to-closure")}
    assert sum(map(len, days.values())) > 20
    for kind, values in days.items():
        assert float(found[kind][3]) == median(values), kind


def test_columns_need_no_quotes_in_duckdb_but_the_one_that_says_so(folder: Path) -> None:
    """A column that is a word of SQL is a trap; only ``at``, the record's name for the time, is one, and says so."""
    refused = set()
    with duckdb.connect() as base:
        for name, table in tables().items():
            for column in table.names:
                try:
                    base.execute(f"SELECT {column} FROM '{folder / name}.parquet' LIMIT 1")
                except duckdb.Error:
                    refused.add(column)
    assert refused <= {"at"}
