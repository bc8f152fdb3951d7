"""Suggestions for words that no list knows: never the opposite of what was written (common practice, no source)."""

from __future__ import annotations

import pytest

from woundfhir.catalogue import catalogue
from woundfhir.record.nearest import nearest_words


@pytest.mark.parametrize(
    ("answers", "written", "near"),
    [
        ("infection_signs", "?infection", ["infection suspected"]),
        ("infection_signs", "no infectionn", ["none"]),
        ("exudate_amount", "not heavy", []),
        ("exudate_amount", "heavvy", ["heavy"]),
        ("exudate_type", "nonpurulent", []),
        ("edge", "not atached", ["not attached"]),
    ],
)
def test_what_denies_is_never_near_what_does_not(answers: str, written: str, near: list[str]) -> None:
    assert nearest_words(catalogue().answers[answers], written) == near
