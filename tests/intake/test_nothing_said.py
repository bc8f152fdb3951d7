"""Nothing is said that nobody said: what came of others without a finding is no wound that was not looked at."""

from __future__ import annotations

import pytest

from tests.intake.foreign.inputs import READ
from woundfhir.fhir import to_fhir
from woundfhir.intake.resources import from_fhir


@pytest.mark.parametrize(
    "name",
    [
        *("a dressing change of which nothing is said", "a dressing change with what was used"),
        "a plan of which nothing is understood",
    ],
)
def test_no_observation_says_that_a_wound_was_not_looked_at(name: str) -> None:
    history, _ = from_fhir(READ[name][0])
    assert "not-performed" not in str(to_fhir(history))


def test_a_dressing_change_was_done_all_the_same() -> None:
    history, losses = from_fhir(READ["a dressing change of which nothing is said"][0])
    assert history.visits[0]["wounds"] == [{"wound": "w", "note": "Change of dressing"}]
    assert losses.items == ()


def test_what_was_used_is_understood() -> None:
    history, losses = from_fhir(READ["a dressing change with what was used"][0])
    assert history.visits[0]["wounds"][0]["supplies"] == [{"item": "foam"}]
    assert not [one for one in losses.items if "usedCode" in one.path]


def test_two_days_of_a_visit_without_a_time_are_two_visits() -> None:
    history, _ = from_fhir(READ["a visit without a time"][0])
    lengths = {one["at"][:10]: one["wounds"][0]["assessment"]["length"] for one in history.visits}
    assert lengths == {"2026-03-02": "3 cm", "2026-03-09": "2 cm"}


def test_a_supply_of_a_wound_that_did_not_come_is_of_no_other_wound() -> None:
    """Ours, from a server that holds the wound elsewhere: the only wound that came is another one."""
    person, one, change = READ["a dressing change with what was used"][0]
    came = [person, one, {**change, "reasonReference": [{"reference": "http://two.example.org/r4/Condition/x"}]}]
    first, _ = from_fhir(came)
    again, _ = from_fhir([one for one in to_fhir(first) if one["resourceType"] != "Procedure"])
    for history in (first, again):
        (entry,) = history.visits[0]["wounds"]
        assert entry["wound"] == "http://two.example.org/r4/Condition/x" and entry["supplies"] == [{"item": "foam"}]
