"""How often a dressing is to be changed, in words, and how many days then lie between two changes: arithmetic."""

from __future__ import annotations

from decimal import Decimal

import pytest

from woundfhir.chart import open_record
from woundfhir.checklist.rules.bounds import planned_interval
from woundfhir.record import History


@pytest.mark.parametrize(
    ("written", "least", "most"),
    [
        ("3 d", "3", "3"),
        ("once a day", "1", "1"),
        ("twice a day", "0.5", "0.5"),
        ("every 2 to 3 days", "2", "3"),
        ("once a week", "7", "7"),
        ("twice a week", "3", "4"),
        ("three times a week", "2", "3"),
        ("Monday and Thursday", "3", "4"),
        ("Monday, Wednesday and Friday", "2", "3"),
        ("Sunday", "7", "7"),
        ("when it leaks", None, None),
        ("0 d", None, None),
    ],
)
def test_an_interval_in_words_is_so_many_days(written: str, least: str | None, most: str | None) -> None:
    visit = {"id": "V1", "at": "2026-03-02", "wounds": [{"wound": "W1", "plan": {"change_every": written}}]}
    record = open_record(History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]}))
    found = planned_interval(record.visits[0].entries[0])
    if least is None or most is None:
        assert found is None
    else:
        assert found is not None and (found.least, found.most) == (Decimal(least), Decimal(most))
