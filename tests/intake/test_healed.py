"""A wound that its words call healed (issue 10: "a healed one is closed"; words: common practice, no source)."""

from __future__ import annotations

import pytest

from tests.intake.foreign.inputs import client, wound
from woundfhir.intake.healed import says_healed
from woundfhir.intake.resources import from_fhir


def test_words_and_status_that_contradict_are_a_conflict_and_both_are_shown() -> None:
    history, losses = from_fhir([client(), wound("w", code={"text": "Venous ulcer of leg, healed"})])
    (found,) = history.wounds
    assert "status" not in found and found["kind"] == "Venous ulcer of leg, healed"
    (conflict,) = losses.of("conflict")
    assert conflict.path == "Condition.clinicalStatus" and "its words say that it is healed" in conflict.why


def test_words_alone_close_it_and_agree_with_a_status() -> None:
    alone = wound("w", code={"text": "Healed pressure ulcer of heel"})
    del alone["clinicalStatus"]
    closed = wound("w", state="resolved", code={"text": "Pressure ulcer, healed"})
    for one in (alone, closed):
        history, losses = from_fhir([client(), one])
        assert history.wounds[0]["status"] == "closed"
        assert not losses.of("conflict")


@pytest.mark.parametrize(
    "text",
    [
        *("Non-healed ulcer", "Ulcer not yet healed", "Unhealed ulcer", "Partly healed wound", "Ulcer, 90 % healed"),
        *(
            "Ulcer to be healed",
            "Dressing until healed: ulcer",
            "Healing ulcer",
            "Ulcère non guéri",
            "Almost healed burn",
        ),
    ],
)
def test_words_that_do_not_say_it(text: str) -> None:
    assert not says_healed([text])


@pytest.mark.parametrize("text", ["Healed venous ulcer", "Ulcer - resolved", "Plaie cicatrisée", "Burn (healed)"])
def test_words_that_say_it(text: str) -> None:
    assert says_healed([text])
