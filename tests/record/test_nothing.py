"""Words that say "none" make no item of a group: common practice, no source; written before the code's own words."""

from __future__ import annotations

from typing import Any

import pytest

from woundfhir.chart import open_record
from woundfhir.record import History

NOTHING = ["none", "None", "nil", "NIL.", "Nil noted", "no", False, "0", 0, "-", "none seen", "no undermining", "aucun"]


def _entry(**assessment: Any) -> Any:
    seen = {"wound": "W1", "assessment": assessment}
    raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [{"id": "V1", "wounds": [seen]}]}
    return open_record(History.of(raw)).visits[0].entries[0]


@pytest.mark.parametrize("word", NOTHING, ids=str)
def test_no_undermining_is_none_and_no_item(word: Any) -> None:
    for answer in (word, [word], {"depth": word}, [{"depth": word, "clock": word}]):
        entry = _entry(undermining=answer)
        assert entry.answer("assessment.undermining") == "none", answer
        assert entry.none("assessment.undermining") and not entry.has("assessment.undermining")


@pytest.mark.parametrize("answer", [{"depth": "0 cm"}, [{"depth": "0.0 cm", "clock": "none"}]], ids=str)
def test_a_space_of_nothing_is_none(answer: Any) -> None:
    assert _entry(tunnels=answer).answer("assessment.tunnels") == "none"


@pytest.mark.parametrize("word", ["yes", "2 cm at 3", "none at 3, 2 cm at 9", "unknown", "?", "no."])
def test_other_words_are_kept_as_a_nurse_wrote_them(word: str) -> None:
    found = _entry(undermining=word).answer("assessment.undermining")
    assert found == ("none" if word == "no." else [{"note": word}])


def test_what_nobody_looked_for_has_that_as_its_reason() -> None:
    entry = _entry(undermining="not looked for")
    assert entry.answer("assessment.undermining") == {"absent": "not looked for"}
    assert not entry.none("assessment.undermining")


def test_a_negative_swab_is_a_swab() -> None:
    raw = {"wound": "W1", "care": {"swab": "negative", "packing": "nil", "debridement": "none"}}
    history = History.of(
        {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [{"id": "V1", "wounds": [raw]}]}
    )
    care = history.visits[0]["wounds"][0]["care"]
    assert care["packing"] == "none" == care["debridement"] and care["swab"] != "none"


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("none", {"none": "known"}),
        (["Nil known"], {"none": "known"}),
        ("NKA", {"none": "known"}),
        ([{"to": "none known"}], {"none": "known"}),
        ("unknown", {"absent": "unknown"}),
        ("not asked", {"absent": "not asked"}),
        ("NKDA", {"absent": "NKDA"}),
        ("?", {"absent": "?"}),
        ("-", {"absent": "-"}),
        (["n/a"], {"absent": "n/a"}),
        (["latex", "none other"], [{"to": "latex"}, {"to": "none other"}]),
        ("honey", [{"to": "honey"}]),
    ],
    ids=str,
)
def test_nobody_is_allergic_to_the_word_none(written: Any, read: Any) -> None:
    history = History.of({"woundfhir": 1, "patient": {"allergies": written}, "wounds": [], "visits": []})
    assert history.patient["allergies"] == read


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ([{}, {"to": "none"}], {"none": "known"}),
        ([None, "NKA"], {"none": "known"}),
        ([{"to": "none", "reaction": ""}], {"none": "known"}),
        (["", {"to": "unknown"}], {"absent": "unknown"}),
        ([{}, {"to": "latex"}, {"to": ""}], [{"to": "latex"}]),
    ],
)
def test_empty_items_and_keys_make_no_allergy_to_none(written: Any, read: Any) -> None:
    history = History.of({"woundfhir": 1, "patient": {"allergies": written}, "wounds": [], "visits": []})
    assert history.patient["allergies"] == read
    assert History.of(history.data).data == history.data
