"""An action is an entry of its own; the free text of earlier records is read as one that does not say its matter."""

from __future__ import annotations

import json
from typing import Any

import pytest

from woundfhir.catalogue import catalogue
from woundfhir.chart.views import open_record
from woundfhir.fhir import to_fhir
from woundfhir.intake.given import read
from woundfhir.intake.resources import from_fhir
from woundfhir.output import render
from woundfhir.record import History

Json = Any
WORDS = "physician called at 10:30"
ACTION = {
    "done": "asked for a swab and antibiotics",
    "about": ["infection", "pain"],
    "told": ["nurse practitioner"],
    "when": "2026-03-02T10:30:00-05:00",
    "agreed": "sees the client today",
}


def record(escalation: Json, **plan: Json) -> History:
    visit = {"id": "v1", "at": "2026-03-02T10:00:00-05:00", "status": "final"}
    visit["wounds"] = [{"wound": "W1", "plan": {"escalation": escalation, **plan}}]
    return History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]})


def plan(history: History) -> Json:
    return history.visits[0]["wounds"][0]["plan"]


@pytest.mark.parametrize("form", ["record-json", "record", "csv"])
@pytest.mark.parametrize("written", [WORDS, [ACTION], [ACTION, {"done": WORDS}], "none", {"absent": "unknown"}])
def test_every_form_of_an_action_survives_every_format_and_fhir(form: str, written: Json) -> None:
    history = record(written)
    assert read(render(history, form)).history.data == history.data
    back, report = from_fhir(to_fhir(history))
    assert plan(back) == plan(history)
    assert report.items == ()


def test_the_free_text_of_earlier_records_is_an_action_without_a_matter() -> None:
    assert plan(record(WORDS))["escalation"] == [{"done": WORDS}]
    assert open_record(record(WORDS)).visits[0].entries[0].has("plan.escalation")


def test_the_observation_of_earlier_versions_is_read_and_is_what_is_written_still() -> None:
    """Version 0.1.0 wrote the words as valueString; the words of an action stand there today."""
    out = to_fhir(record(WORDS))
    (made,) = [r for r in out if r.get("code", {}).get("coding", [{}])[0].get("code") == "escalation"]
    assert made["valueString"] == WORDS and "component" not in made
    old = json.loads(json.dumps(out, default=str))
    for resource in old:
        resource.pop("extension", None)
    back, _ = from_fhir(old)
    assert plan(back)["escalation"] == [{"done": WORDS}]


def test_what_an_action_is_about_is_a_closed_list_and_names_the_hazards_that_it_may_answer() -> None:
    about = catalogue().concept("plan.escalation.about").answers
    assert about is not None and not about.open
    wanted = ["infection", "allergy", "compression", "packing", "bleeding", "pain", "larger", "circulation", "other"]
    assert set(wanted) <= {word.word for word in about.words}
    answered = {tag.removeprefix("answers:") for word in about.words for tag in word.tags}
    assert catalogue().hazards.keys() <= answered
    other = about.find("other")
    assert other is not None and not other.tags  # "other" answers nothing by itself


def test_nobody_was_told_is_not_somebody() -> None:
    told = catalogue().concept("plan.escalation.told").answers
    assert told is not None
    for word in ("nobody", "no one", "none", "not told"):
        found = told.find(word)
        assert found is not None and "nobody" in found.tags, word


@pytest.mark.parametrize(
    ("group", "key", "value"),
    [
        ("plan", "refusal", [{"what": "compression", "by": "client", "explained": "what it is for", "told": ["NP"]}]),
        ("plan", "order", [{"what": "honey alginate", "prescriber": "A. Invented", "expires": "2026-06-01"}]),
        ("plan", "purpose_here", ["not due today"]),
        ("assessment", "remote", {"looked": "the daughter, by video", "way": "video", "measured": "ruler held by her"}),
        ("assessment", "pain_scale", "PAINAD"),
        ("care", "technique", "aseptic"),
        ("care", "hand_hygiene", "yes"),
        ("care", "waste", "sharps box of the house"),
        (
            "care",
            "negative_pressure",
            {"pressure": "125 mmHg", "mode": "continuous", "foam_out": "2", "foam_in": "2", "seal": "yes"},
        ),
        ("care", "primary_dressing", [{"dressing": "foam dressing", "wear_time": "3 d", "covers_wound": "no"}]),
    ],
)
def test_what_must_be_chartable_goes_both_ways(group: str, key: str, value: Json) -> None:
    visit = {"id": "v1", "at": "2026-03-02", "status": "final", "wounds": [{"wound": "W1", group: {key: value}}]}
    history = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]})
    back, report = from_fhir(to_fhir(history))
    assert back.visits[0]["wounds"][0][group][key] == value
    assert report.items == ()
    assert read(render(history, "csv")).history.data == history.data
