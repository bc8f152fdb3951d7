"""The word lists of denial: one file a language, all with a source and the same parts.

Words of nurses (common practice, no source).
"""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any

import pytest

from woundfhir.intake.absence import denied, reason, with_reason
from woundfhir.intake.founding import names_wound
from woundfhir.intake.words import LANGUAGES


def lists(language: str) -> dict[str, Any]:
    return tomllib.loads(files("woundfhir.intake").joinpath(f"words_{language}.toml").read_text("utf-8"))


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_file_has_a_source_and_the_same_parts(language: str) -> None:
    found, first = lists(language), lists(LANGUAGES[0])
    assert found["source"]
    assert {part: set(words) for part, words in found.items() if part != "source"} == {
        part: set(words) for part, words in first.items() if part != "source"
    }


@pytest.mark.parametrize(
    "words",
    ["No wounds", "Ulcer: none seen", "Healed wound, no longer present", "Plaie absente", "Ulcère : aucun observé"],
)
def test_a_denial_is_one_in_each_language(words: str) -> None:
    assert denied(words)


@pytest.mark.parametrize("words", ["Non-healing ulcer", "Venous ulcer (pain: none)", "Plaie chronique du talon"])
def test_a_wound_is_not_denied_by_what_it_lacks(words: str) -> None:
    assert not denied(words)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("Antécédent de plaie de pression", "in the past"),
        ("Risque de plaie de pression", "a risk"),
        ("Wound of her mother", "another person"),
        ("Plaie de la mère", "another person"),
    ],
)
def test_what_is_no_finding_of_today_is_named_as_that(words: str, why: str) -> None:
    found = reason({"resourceType": "Condition", "code": {"text": words}})
    assert found is not None
    assert why in found.why


@pytest.mark.parametrize(
    ("words", "past"),
    [
        ("Recurrent venous ulcer, history of DVT", False),
        ("Ulcer of leg (history of DVT)", False),
        ("Plaie du talon, antecedent de diabete", False),
        ("Venous ulcer, history of same", True),
        ("Leg ulcer - history of leg ulcer", True),
        ("Leg ulcer (history)", True),
        ("History of DVT, venous leg ulcer", True),  # a list of what was: whether the last is of today is not said
        ("DVT, history of ulcer", True),
    ],
)
def test_only_words_about_the_past_are_past(words: str, past: bool) -> None:
    found = reason({"resourceType": "Condition", "code": {"text": words}})
    assert (found is not None and "in the past" in found.why) is past
    assert past or names_wound(words)


@pytest.mark.parametrize("where", ["value", "component"])
def test_a_value_and_a_status_that_there_is_none_yet_contradict(where: str) -> None:
    value = {"valueQuantity": {"value": 4, "unit": "cm"}}
    came = value if where == "value" else {"component": [{"code": {"text": "Length"}, **value}]}
    found = reason({"resourceType": "Observation", "status": "registered", **came})
    assert found is not None and found.kind == "conflict" and "registered" in found.why
    assert reason({"resourceType": "Observation", "status": "registered", "component": []}) is None


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("AllergyIntolerance", "NKA."),
        ("AllergyIntolerance", "Aucune allergie connue"),
        ("Condition", "Aucun problème de santé connu"),
    ],
)
def test_none_known_is_an_answer(kind: str, words: str) -> None:
    assert with_reason({"resourceType": kind, "code": {"text": words}})["code"]["coding"]
