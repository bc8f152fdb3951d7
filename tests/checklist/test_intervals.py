"""How many days lie between two changes of a dressing by its words, and how old a client is: arithmetic."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from woundfhir.chart import open_record
from woundfhir.checklist.policy import load
from woundfhir.checklist.rules.bounds import Interval, age_below, planned_interval, tolerance
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


@pytest.mark.parametrize(
    ("born", "day", "below"),
    [
        ("2022-03-02", "2026-03-02", False),  # the fourth birthday
        ("2022-03-03", "2026-03-02", True),
        ("2022-02-28", "2026-03-02", False),
        ("2022-12-01", "2026-03-02", True),
        ("2022-03", "2026-03-02", False),  # perhaps four
        ("2022-04", "2026-03-02", True),
        ("2021-04", "2026-03-02", False),  # four
        ("2022", "2026-03-02", False),
        ("2023", "2026-03-02", True),
        ("2027-01-01", "2026-03-02", False),  # no age lies ahead
        ("2025", None, False),
        *((odd, "2026-03-02", True) for odd in ("2025-", "2025-1x", "2025-13")),  # the year is known
        *((odd, "2026-03-02", False) for odd in ("202?", "202", "in 2025", "about 2025", "", None)),
    ],
)
def test_a_child_is_young_only_where_its_birth_says_so_for_certain(
    born: str | None, day: str | None, below: bool
) -> None:
    visit = {"id": "V1", **({"at": day} if day else {}), "wounds": [{"wound": "W1"}]}
    patient = {} if born is None else {"born": born}
    record = open_record(History.of({"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}], "visits": [visit]}))
    assert age_below(record.visits[0].entries[0], 4) is below


@pytest.mark.parametrize(
    ("grace", "days", "late"), [(1, 1, 0), (1, 2, 1), (1, 7, 1), (9, 1, 0), (9, 3, 1), (9, 4, 2), (9, 7, 3), (2, 7, 2)]
)
def test_a_change_may_be_late_by_the_days_of_the_policy_and_never_by_more_than_half(
    grace: int, days: int, late: int
) -> None:
    policy = load("ontario")
    limits = {**policy.limits, "plan.grace_days": policy.limits["plan.grace_days"]._replace(value=Decimal(grace))}
    assert tolerance(Interval(Decimal(days), Decimal(days)), replace(policy, limits=limits)) == late
