"""A site's own words are read as words of our lists, wherever such a word can stand. The words are invented."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checklist.samples import entry, record, visit
from woundfhir.chart.site_words import in_our_words
from woundfhir.errors import InputError

Json = Any
WORDS = {
    "wound.kind": {"Hole in the leg": "venous leg ulcer"},
    "visit.purpose": {"look-see": "full assessment"},
    "client.risk_tool": {"our tool": "Braden scale"},
    "assessment.periwound": {"soggy": "maceration"},
    "assessment.tissue": {"beefy": "granulation"},
    "assessment.exudate_amount": {"loads": "large"},
    "care.primary_dressing.dressing": {"Sticky Sheet": "hydrocolloid"},
    "plan.healability": {"will heal": "healable"},
    "supply.item": {"long gloves": "gloves"},
}


def test_each_word_is_read_where_it_stands_and_nothing_else_is_touched() -> None:
    seen = entry(
        assessment={
            "periwound": ["SOGGY", "sore to touch"],
            "tissue": {"Beefy": "80 %", "slough": "20 %"},
            "exudate_amount": "loads",
            "odour": {"absent": "not assessed"},
            "length": "4 cm",
        },
        care={"primary_dressing": [{"dressing": "sticky  sheet", "size": "10 x 10 cm"}], "packing": "none"},
        plan={"healability": "will heal", "reassessment": "look-see"},
        supplies=[{"item": "Long gloves", "quantity": "2"}, {"item": "sticky sheet"}],
        photos=[{"file": "soggy.jpg"}],
        note="Hole in the leg is soggy.",
    )
    wound = {"id": "W1", "kind": "hole in the LEG", "site": "lower leg"}
    given = record(
        visit(seen, purpose=["look-see", "dressing change"], client={"risk_tool": "our tool", "history": "soggy"}),
        {"note": "loads"},
        wounds=[wound],
    )
    before = given.json()
    found = in_our_words(given, WORDS, "ours.toml")
    assert given.json() == before and in_our_words(given, {}, "ours.toml") is given
    expected = {**given.data, "wounds": [{**given.wounds[0], "kind": "venous leg ulcer"}]}
    first, second = given.visits
    one = first["wounds"][0]
    expected["visits"] = [
        {
            **first,
            "purpose": ["full assessment", "dressing change"],
            "client": {**first["client"], "risk_tool": "Braden scale"},
            "wounds": [
                {
                    **one,
                    "assessment": {
                        **one["assessment"],
                        "periwound": ["maceration", "sore to touch"],
                        "tissue": {"granulation": "80 %", "slough": "20 %"},
                        "exudate_amount": "large",
                    },
                    "care": {
                        **one["care"],
                        "primary_dressing": [{**one["care"]["primary_dressing"][0], "dressing": "hydrocolloid"}],
                    },
                    "plan": {**one["plan"], "healability": "healable"},
                    "supplies": [{**one["supplies"][0], "item": "gloves"}, one["supplies"][1]],
                }
            ],
        },
        second,
    ]
    assert found.data == expected


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ({"assessment.length": {"a": "b"}}, "data elements with an answer list"),
        ({"nothing": {"a": "b"}}, "data elements with an answer list"),
        ({"wound.kind": {"hole": "no such kind"}}, "a word of its list behind each ="),
        ({"wound.kind": {"burn": "venous leg ulcer"}}, "words that its list does not know before each ="),
    ],
)
def test_words_that_cannot_be_read_so_are_refused_with_their_place(words: Json, message: str) -> None:
    with pytest.raises(InputError) as error:
        in_our_words(record(visit()), words, "ours.toml")
    assert error.value.where.startswith("ours.toml, words") and message in str(error.value)
