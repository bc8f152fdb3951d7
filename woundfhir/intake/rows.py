"""Rows of a database or a data frame, by the same door as tables in files."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from woundfhir.intake.inputs import Input
from woundfhir.tables.mapping import TableMap, as_map

Json = Any


def from_rows(
    rows: Any, mapping: TableMap | Mapping[str, Json] | str | os.PathLike[str], *, name: str = "rows"
) -> Iterator[Input]:
    """Read the histories of many clients from rows, one after the other.

    Parameters
    ----------
    rows
        A DB-API 2.0 cursor after its query, an iterable of dicts, a data frame of pandas or polars, an Arrow table.
        It is read once; dates, decimals and missing values (None, NaN, NaT, NA) mean what they mean.
    mapping
        What the columns mean: the path of a TOML file as ``woundfhir map table`` writes it, or the same as a dict.
    name
        What the rows are called in messages and in the report.

    Yields
    ------
    Input
        It unpacks into ``history, report``; last, where there are any, rows that name no client (``of_client`` is
        False). A cell or a row that cannot be read stands in the report, with its row (counted from 1) and column.

    Raises
    ------
    InputError
        When the mapping does not fit the columns, or the rows are none of these.

    Examples
    --------
    >>> import sqlite3
    >>> base = sqlite3.connect(":memory:")
    >>> found = base.execute("SELECT 17 AS chart, '2026-03-02' AS seen, 'heel' AS wound, 4.2 AS long")
    >>> columns = {"chart": "patient.identifiers", "seen": "visit.at", "wound": "wound.id", "long": "assessment.length"}
    >>> mapping = {"table": 1, "column": [{"name": name, "to": to} for name, to in columns.items()]}
    >>> for history, report in from_rows(found, mapping):
    ...     print(history.visits[0]["wounds"], report.summary)
    [{'wound': 'heel', 'assessment': {'length': '4.2'}}] 4 of 4 values understood
    >>> base.close()
    """
    from woundfhir.tables.frames import open_rows
    from woundfhir.tables.reading import read_sheet

    ready = as_map(Path(mapping) if isinstance(mapping, os.PathLike) else mapping)
    for one in read_sheet(open_rows(rows, name), name, ready):
        one.history.source = one.title
        yield Input(one.title, one.history, "rows", report=one.report, of_client=one.named)
