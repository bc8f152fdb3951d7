"""Rows that programs hold: the same rows give the same record, whatever holds them."""

from __future__ import annotations

import sqlite3
from collections import namedtuple
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any, ClassVar

import pytest

import woundfhir
from woundfhir.errors import InputError

COLUMNS = {
    "chart": "patient.identifiers",
    "born": "patient.born",
    "seen": "visit.at",
    "wound": "wound.id",
    "len": "assessment.length",
    "probed": "assessment.probe_to_bone",
    "mood": None,
}
MAPPING = {
    "table": 1,
    "zone": "America/Toronto",
    "column": [
        {"name": name, "to": to, **({"unit": "cm"} if name == "len" else {})} for name, to in COLUMNS.items() if to
    ],
}
ROWS: list[dict[str, Any]] = [
    {"chart": "17", "born": date(1948, 3, 9), "seen": datetime(2026, 3, 2, 10, 5), "wound": "heel", "len": 4.2}
    | {"probed": True, "mood": "well"},
    {"chart": "18", "born": None, "seen": datetime(2026, 3, 3, 9, 0), "wound": "heel", "len": float("nan")}
    | {"probed": False, "mood": None},
    {"chart": "17", "born": date(1948, 3, 9), "seen": datetime(2026, 3, 9, 10, 5), "wound": "heel", "len": -1.0}
    | {"probed": None, "mood": "low"},
]


def histories(rows: Any) -> list[Any]:
    return [one.history.data for one in woundfhir.from_rows(rows, MAPPING)]


def as_pandas() -> Any:
    return pytest.importorskip("pandas").DataFrame(ROWS)


def as_polars() -> Any:
    return pytest.importorskip("polars").DataFrame(ROWS)


def as_arrow() -> Any:
    return pytest.importorskip("pyarrow").Table.from_pylist(ROWS)


def as_named_tuples() -> Any:
    row = namedtuple("row", COLUMNS)
    return (row(**one) for one in ROWS)


def as_tuples_of_a_cursor() -> Any:
    class Cursor:
        """As PEP 249 describes it, with the types that drivers give."""

        description: ClassVar = [(name, None, None, None, None, None, None) for name in COLUMNS]

        def __init__(self) -> None:
            self.rows = [tuple(one.values()) for one in ROWS]

        def fetchmany(self, size: int) -> list[Any]:
            some, self.rows = self.rows[:2], self.rows[2:]
            return some

    return Cursor()


@pytest.mark.parametrize("make", [as_pandas, as_polars, as_arrow, as_named_tuples, as_tuples_of_a_cursor])
def test_the_same_rows_give_the_same_records_whatever_holds_them(make: Callable[[], Any]) -> None:
    assert histories(make()) == histories(ROWS)


def test_what_rows_hold_is_what_the_record_says() -> None:
    first, second = woundfhir.from_rows(iter(ROWS), MAPPING)
    assert first.history.patient == {"identifiers": [{"value": "17"}], "born": "1948-03-09"}
    assert [visit["at"] for visit in first.history.visits] == ["2026-03-02T10:05:00-05:00", "2026-03-09T10:05:00-04:00"]
    (entry,) = first.history.visits[0]["wounds"]
    assert entry["assessment"] == {"length": "4.2 cm", "probe_to_bone": "yes"}
    assert "length" not in second.history.visits[0]["wounds"][0]["assessment"]
    (wrong,) = first.report.of("not-understood")
    assert wrong.path == "row 3, column 5 (len)"  # a length below zero
    assert first.report.counts["kept"] == 2


def test_decimals_survive_to_the_last_digit() -> None:
    (found,) = woundfhir.from_rows([{**ROWS[0], "len": Decimal("4.10")}], MAPPING)
    assert found.history.visits[0]["wounds"][0]["assessment"]["length"] == "4.10 cm"


def test_a_data_base_is_read_through_its_cursor() -> None:
    base = sqlite3.connect(":memory:")
    base.execute("CREATE TABLE seen (chart TEXT, born TEXT, seen TEXT, wound TEXT, len REAL, probed TEXT, mood TEXT)")
    written = [(f"C{n}", "1948", "2026-03-02", "W", 4.5, "Y", None) for n in range(2_500)]
    base.executemany("INSERT INTO seen VALUES (?, ?, ?, ?, ?, ?, ?)", written)
    assert len(histories(base.execute("SELECT * FROM seen"))) == 2_500
    base.row_factory = sqlite3.Row
    rows = iter(base.execute("SELECT * FROM seen LIMIT 3").fetchall())
    assert [one["patient"]["identifiers"][0]["value"] for one in histories(rows)] == ["C0", "C1", "C2"]
    base.close()


@pytest.mark.parametrize("rows", [None, 7, "text", {"a": 1}, [], [(1, 2)], [{}]], ids=repr)
def test_what_holds_no_rows_is_refused(rows: Any) -> None:
    with pytest.raises(InputError):
        histories(rows)


def test_an_odd_value_is_a_cell_that_cannot_be_read_and_no_more() -> None:
    rows = [ROWS[0], {**ROWS[1], "len": b"4"}, {**ROWS[1], "other": 1}]
    first, second = woundfhir.from_rows(rows, MAPPING)
    assert not first.report.asks
    (wrong,) = second.report.of("not-understood")
    assert wrong.line == (
        "rows: row 2, column 5 (len): not understood: expected text, a number, a date or nothing; "
        "a value is of type bytes"
    )
