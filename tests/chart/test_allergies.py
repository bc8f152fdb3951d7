"""Allergies against what products carry, step by step. Which product carries what is common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from woundfhir.catalogue import CatalogueError, catalogue
from woundfhir.catalogue.reader import Reader
from woundfhir.chart import open_record
from woundfhir.chart.allergies import allergies_met, substances_met, substances_named
from woundfhir.checklist import check
from woundfhir.handover.summary.client import summary
from woundfhir.record import History

Json = Any
KNOWN = catalogue()
#: The fields that name a product, by step; each step of a change that touches skin or wound is among them.
FIELDS = {
    "care.removed.dressing",
    "care.cleansing.solution",
    "care.periwound_protection.product",
    "care.packing.material",
    "care.primary_dressing.dressing",
    "care.secondary_dressing.dressing",
    "care.securement.method",
    "care.compression.system",
    "care.negative_pressure.filler",
    "supply.item",
}


def test_every_product_word_states_its_substances_an_empty_list_too() -> None:
    found = {c.path for c in KNOWN.concepts(fields=True) if c.answers is not None and c.answers.substances}
    assert found == FIELDS
    for path in FIELDS:
        answers = KNOWN.concept(path).answers
        assert answers is not None
        assert answers.substances == "common practice, no source"
        assert [word.word for word in answers.words if word.substances is None] == []


def test_every_substance_is_in_a_product_or_meant_by_its_name() -> None:
    carried = {s for path in FIELDS for w in KNOWN.concept(path).answers.words for s in w.substances or ()}  # type: ignore[union-attr]
    named = {key for key, one in KNOWN.pages.substances.items() if not one.by_name}
    assert named - carried == {"bee venom"}  # asked about beside honey (DR03), in no product


@pytest.mark.parametrize(
    ("care", "places"),
    [
        ({"securement": [{"method": "a latex wrap"}]}, ["securement[0].method"]),
        # Free words about a step with products may name one, those about any other step do not.
        ({"packing": [{"location": "under the latex drain"}]}, ["packing[0].location"]),
        ({"response": {"tolerated": "well", "action": "latex glove taken off"}}, []),
        ({"swab": {"reason": "latex seen"}}, []),
        ({"securement": [{"method": {"absent": "unknown"}}]}, []),
    ],
)
def test_a_product_is_named_in_answers_about_products_alone(care: Json, places: list[str]) -> None:
    made = {"id": "V1", "at": "2026-03-02", "wounds": [{"wound": "W1", "care": care}]}
    history = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [made]})
    leaves = open_record(history).visits[0].entries[0].leaves()
    met = list(allergies_met(leaves, ["latex"]))
    assert [one.leaf.path.removeprefix("visits[0].wounds[0].care.") for one in met] == places
    assert {substance for one in met for substance in one.substances} <= {"latex"}
    assert list(allergies_met(leaves, [])) == []


@pytest.mark.parametrize(
    ("word", "message"),
    [
        ({"word": "x", "source": "s"}, "lacks substances"),
        ({"word": "x", "source": "s", "substances": ["moonlight"]}, "no substance moonlight"),
    ],
)
def test_the_loader_refuses_a_product_without_its_substances(word: Json, message: str) -> None:
    with pytest.raises(CatalogueError, match=message):
        Reader().answer_list("x", {"substances": "a test", "words": [word]})


def test_the_loader_refuses_substances_of_what_is_no_product() -> None:
    with pytest.raises(CatalogueError, match="is no product"):
        Reader().answer_list("x", {"words": [{"word": "x", "source": "s", "substances": []}]})


@pytest.mark.parametrize(
    ("allergy", "named"),
    [
        ("sulfa", {"sulfonamide"}),
        ("Sulfa drugs", {"sulfonamide"}),
        ("adhesive tape", {"adhesive"}),
        ("tapes", {"adhesive"}),
        ("bee stings", {"bee venom"}),
        ("bees", {"bee venom"}),
        ("bee-venom", {"bee venom"}),
        ("honey", {"honey"}),
        ("propolis", {"honey"}),
        ("Povidone-iodine", {"iodine"}),
        ("PHMB", {"PHMB"}),
        ("rosin", {"colophony"}),
        ("pork", {"collagen"}),
        ("zinc oxide cream", {"zinc"}),
        ("natural rubber latex", {"latex"}),
        ("wool fat", {"lanolin"}),
        ("penicillin", set()),
        ("tapentadol", set()),
        ("latex-free gloves", set()),
        ("shellfish", set()),
    ],
)
def test_the_words_of_an_allergy_name_substances(allergy: str, named: set[str]) -> None:
    assert substances_named(allergy) == named


@pytest.mark.parametrize(
    ("allergy", "path", "word", "met"),
    [
        ("zinc", "care.periwound_protection.product", "zinc oxide", {"zinc"}),
        ("acrylate", "care.periwound_protection.product", "barrier wipe", {"acrylate"}),
        ("PHMB", "care.cleansing.solution", "polihexanide", {"PHMB"}),
        ("iodine", "care.packing.material", "iodoform", {"iodine"}),
        ("latex", "care.securement.method", "cohesive wrap", {"latex"}),
        ("latex", "care.compression.system", "4 layer", {"latex"}),
        ("pork", "care.primary_dressing.dressing", "collagen", {"collagen"}),
        ("bee products", "care.removed.dressing", "honey alginate", {"honey"}),
        ("sulfa", "care.primary_dressing.dressing", "SSD", {"sulfonamide"}),
        ("sulfa", "care.primary_dressing.dressing", "silver foam", set()),
        ("adhesive tape", "care.securement.method", "silicone tape", set()),
        ("adhesive tape", "care.primary_dressing.dressing", "non-adhesive foam", set()),
        ("adhesive", "care.secondary_dressing.dressing", "bordered foam", {"adhesive"}),
        ("silver", "care.primary_dressing.dressing", "foam with silver beads inside", {"silver"}),
        ("lavender", "care.cleansing.solution", "lavender water", {"lavender"}),
        ("bandages", "care.securement.method", "roll bandage", {"dressing"}),
    ],
)
def test_what_of_an_allergy_a_product_may_carry(allergy: str, path: str, word: str, met: set[str]) -> None:
    assert substances_met(allergy, KNOWN.concept(path), word) == met


@pytest.mark.parametrize("path", sorted(FIELDS))
def test_every_step_is_looked_at(path: str) -> None:
    """For each product of each step: an allergy to what it carries is asked about, and to nothing else is not."""
    answers = KNOWN.concept(path).answers
    assert answers is not None
    for word in answers.words:
        for substance in sorted(word.substances or ()):
            name = KNOWN.pages.substances[substance].called[0]
            assert _asks(path, word.word, name), (word.word, name)
    bare = next((word for word in answers.words if not word.substances and word.word != "none"), None)
    if bare is not None:
        assert not _asks(path, bare.word, "zinc")


def _asks(path: str, product: str, allergy: str) -> bool:
    """Whether the checklist asks about an allergy, and the sheet puts it on page one: both or neither."""
    group, key, field = (*path.split("."), "")[:3]
    if group == "supply":
        entry: Json = {"wound": "W1", "supplies": [{key: product}], "care": {"primary_dressing": [{"dressing": "x"}]}}
    else:
        item = {field: product}
        entry = {"wound": "W1", "care": {key: [item] if KNOWN.concept(f"{group}.{key}").many else item}}
    visit = {"id": "v", "at": "2026-03-02", "wounds": [entry]}
    raw = {"woundfhir": 1, "patient": {"allergies": [{"to": allergy}]}, "wounds": [{"id": "W1"}], "visits": [visit]}
    history = History.of(raw)
    asked = any(found.rule in ("CH17", "DR02") for found in check(history))
    shown = any(alert.hazard.key == "allergy" for alert in summary(history).attention)
    assert asked is shown, (path, product, allergy)
    return asked


@pytest.mark.parametrize(
    ("allergy", "entry", "asked"),
    [
        ("latex", {"supplies": [{"item": "gloves"}]}, True),
        ("latex", {"supplies": [{"item": "latex gloves, size M"}]}, True),
        ("latex", {"supplies": [{"item": "latex-free gloves"}]}, False),
        ("latex", {"supplies": [{"item": "nitrile gloves"}]}, False),
        ("latex", {"care": {"compression": {"system": "short stretch", "padding": "latex foam at the ankle"}}}, True),
        ("iodine", {"care": {"cleansing": {"solution": "povidone"}}}, True),
        ("silver", {"care": {"removed": {"dressing": "Ag foam"}}}, True),
    ],
)
def test_gloves_supplies_and_free_words_of_a_step_are_read(allergy: str, entry: Json, asked: bool) -> None:
    visit = {"id": "v", "at": "2026-03-02", "wounds": [{"wound": "W1", **entry}]}
    raw = {"woundfhir": 1, "patient": {"allergies": [{"to": allergy}]}, "wounds": [{"id": "W1"}], "visits": [visit]}
    assert ("CH17" in {found.rule for found in check(History.of(raw))}) is asked
