"""Rhythms that are no single length of time go out as R4's Timing and come back in the nurse's words."""

from __future__ import annotations

from typing import Any

import pytest

from woundfhir.checklist import check
from woundfhir.fhir import to_fhir
from woundfhir.intake.resources import from_fhir
from woundfhir.record import History
from woundfhir.record.rhythm import rhythm


def record(words: str) -> History:
    visit: dict[str, Any] = {
        "id": "v",
        "at": "2026-03-02",
        "wounds": [{"wound": "W1", "plan": {"change_every": words}}],
    }
    return History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]})


@pytest.mark.parametrize(
    ("words", "repeat"),
    [
        ("3 times a week", {"frequency": 3, "period": 1, "periodUnit": "wk"}),
        ("3x/wk", {"frequency": 3, "period": 1, "periodUnit": "wk"}),
        ("twice a week", {"frequency": 2, "period": 1, "periodUnit": "wk"}),
        ("Mon Wed Fri", {"frequency": 3, "period": 1, "periodUnit": "wk", "dayOfWeek": ["mon", "wed", "fri"]}),
        ("Tuesdays and Fridays", {"frequency": 2, "period": 1, "periodUnit": "wk", "dayOfWeek": ["tue", "fri"]}),
        ("2-3 d", {"frequency": 1, "period": 2, "periodMax": 3, "periodUnit": "d"}),
        ("every 2 to 3 days", {"frequency": 1, "period": 2, "periodMax": 3, "periodUnit": "d"}),
    ],
)
def test_a_rhythm_goes_both_ways(words: str, repeat: dict[str, Any]) -> None:
    history = record(words)
    out = to_fhir(history)
    (plan,) = [one for one in out if one["resourceType"] == "CarePlan"]
    (timing,) = [a["detail"]["scheduledTiming"] for a in plan["activity"] if "scheduledTiming" in a["detail"]]
    assert timing["repeat"] == repeat and timing["code"] == {"text": words}
    back, report = from_fhir(out)
    assert back.visits[0]["wounds"][0]["plan"]["change_every"] == words
    assert report.items == ()
    assert not any("change_every" in found.path for found in check(history))


@pytest.mark.parametrize(
    "words", ["when wet", "3-2 d", "0 times a week", "Mon Mon", "Monday if wet", "2", "3 weeks times"]
)
def test_other_words_are_no_rhythm(words: str) -> None:
    assert rhythm(words) is None
