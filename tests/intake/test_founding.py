"""What says that there is a wound, and when two places on the body are one: a wound is never made of less.

Common practice, no source, where no source is named: a pulse or a pain score is of the client, a length of a wound.
"""

from __future__ import annotations

from typing import Any

import pytest

from woundfhir.catalogue import PATHS, catalogue
from woundfhir.fhir.elements import texts_of
from woundfhir.fhir.terms import terms
from woundfhir.intake.founding import Site, founds, names_wound, only_wounds, place

Json = Any
#: What a client without a wound may have as well.
GENERAL = frozenset(
    (
        *("pain_at_rest", "pain_at_change", "pain_nature", "limb_pressure", "pulses", "limb_signs", "red_flags"),
        *("sensation", "temperature_difference", "infection_checked", "infection_signs", "foot_classification"),
        *("foot_grade", "debridement", "compression", "response", "primary_dressing"),
    )
)


def test_our_own_codes_found_a_wound_where_only_wounds_have_them() -> None:
    own, seen = catalogue().systems["own"], {True: 0, False: 0}
    for concept in catalogue().concepts(fields=True):
        alone = concept.group in ("assessment", "care") and concept.of is None and concept.key not in GENERAL
        for coding in concept.codings:
            if coding.system == own:
                seen[alone] += 1
                assert only_wounds([coding.key]) is alone, concept.path
                assert only_wounds([("urn:site", coding.code)]) is False
        if alone and any(coding.system == own for coding in concept.codings):
            assert only_wounds([(PATHS, concept.path)])
    assert min(seen.values()) > 5


def test_a_data_element_or_a_field_of_one_founds_a_wound_where_a_code_of_it_does() -> None:
    """What a map calls by its path is the same as what is known by its code."""
    every = list(catalogue().concepts(fields=True))
    for concept in every:
        assert only_wounds([(PATHS, concept.path)]) is only_wounds([coding.key for coding in concept.codings])
    assert any(concept.of is not None and only_wounds([(PATHS, concept.path)]) for concept in every)


@pytest.mark.parametrize("code", ["39126-8", "39116-9", "89254-7"])  # LOINC: length, exudate amount, wound bed
def test_a_code_of_a_wound_founds_one_beside_others(code: str) -> None:
    of_all = [("http://loinc.org", "72514-3"), ("http://loinc.org", "8310-5"), ("http://loinc.org", "29463-7")]
    assert not only_wounds(of_all)
    assert only_wounds([*of_all, ("http://loinc.org", code)])
    assert not only_wounds([*of_all, ("http://snomed.info/sct", code)])


HEEL, LEFT = "heel", "left"
FITS: list[tuple[Site, Site, bool | None]] = [
    (Site(HEEL, LEFT), Site(HEEL, LEFT), True),
    (Site(HEEL, None), Site(HEEL, None), True),
    (Site(HEEL, LEFT), Site(HEEL, "right"), False),
    (Site(None, LEFT), Site(HEEL, "right"), False),
    (Site(HEEL, LEFT), Site("sacrum", LEFT), False),
    (Site(HEEL, None), Site("sacrum", LEFT), False),
    (Site(HEEL, None), Site(HEEL, LEFT), None),
    (Site(None, LEFT), Site(HEEL, LEFT), None),
    (Site(None, LEFT), Site(None, LEFT), None),
    (Site(None, None), Site(HEEL, LEFT), None),
    (Site("lower leg", LEFT), Site("lower leg, medial", LEFT), None),
    (Site("lower leg", "right"), Site("lower leg, medial", LEFT), False),
    (Site("leg, lower", LEFT), Site("lower leg", LEFT), None),
    (Site("lower leg", LEFT), Site("lower back", LEFT), False),
]


@pytest.mark.parametrize(("one", "other", "same"), FITS)
def test_when_two_places_are_one(one: Site, other: Site, same: bool | None) -> None:
    assert (one.fits(other), other.fits(one)) == (same, same)


@pytest.mark.parametrize(
    ("site", "named"), [(Site(HEEL, None), True), (Site(None, LEFT), True), (Site(None, None), False)]
)
def test_a_place_is_named_by_a_site_or_a_side(site: Site, named: bool) -> None:
    assert site.named is named


PLACES: dict[str, tuple[Json, Site]] = {
    "a word of the list": ({"site": "heel"}, Site("heel", None)),
    "in another case": ({"site": "  HEEL "}, Site("heel", None)),
    "another word for it": ({"site": "shin"}, Site("lower leg", None)),
    "a side of its own": ({"site": "shin", "side": "Right"}, Site("lower leg", "right")),
    "a side in front": ({"site": "left heel"}, Site("heel", "left")),
    "a side behind": ({"site": "Heel, left"}, Site("heel", "left")),
    "a side behind, in brackets": ({"site": "heel (left)"}, Site("heel", "left")),
    "a side behind a line": ({"site": "heel - left"}, Site("heel", "left")),
    "a side in both": ({"site": "left heel", "side": "right"}, Site("left heel", "right")),
    "a side alone": ({"site": "Left"}, Site(None, "left")),
    "words off the list": ({"site": "Left Great  Toe tip"}, Site("great toe tip", "left")),
    "a part of a place": ({"site": "tibia, upper third"}, Site("lower leg, upper third", None)),
    "a part in front": ({"site": "left medial calf"}, Site("medial calf", "left")),
    "a side among other words": (
        {"site": "structure of (left) forefoot tip"},
        Site("structure of forefoot tip", "left"),
    ),
    "a side twice": ({"site": "tip of left toe, left foot"}, Site("tip of toe, foot", "left")),
    "two sides": ({"site": "tip between left, right heel"}, Site("tip between left, right heel", None)),
    "a place in the twelfth word": ({"site": "x " * 11 + "shin x"}, Site("x " * 11 + "lower leg x", None)),
    "a place in the thirteenth word": ({"site": "x " * 12 + "shin x"}, Site("x " * 12 + "shin x", None)),
    "a list of codes": ({"site": {"absent": "unknown"}}, Site(None, None)),
    "nothing": ({}, Site(None, None)),
}


@pytest.mark.parametrize("name", PLACES)
def test_a_place_in_words_that_can_be_compared(name: str) -> None:
    answers, expected = PLACES[name]
    assert place(terms(), answers) == expected


FOUND: list[tuple[Json, bool]] = [
    ({"valueQuantity": {"value": 4}}, True),
    ({"valueString": "4 cm"}, True),
    ({"valueCodeableConcept": {"text": "slough"}}, True),
    ({"valueBoolean": False}, True),
    ({"component": []}, True),
    ({"hasMember": []}, True),
    ({"valueString": "None"}, False),
    ({"valueString": "N/A"}, False),
    ({"valueCodeableConcept": {"text": "none"}}, False),
    ({"valueQuantity": {"value": 4}, "dataAbsentReason": {}}, False),
    ({"dataAbsentReason": {}}, False),
    ({"note": [{"text": "looked at"}]}, False),
    ({}, False),
]


@pytest.mark.parametrize(("more", "expected"), FOUND)
def test_a_finding_founds_a_wound_by_what_it_says(more: Json, expected: bool) -> None:
    assert founds({"resourceType": "Observation", **more}) is expected
    assert founds({"resourceType": "Procedure", **more}) is True


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Pressure ulcer of sacrum", True),
        ("Diabetes, leg ulcer", True),
        ("Skin tear (no infection)", True),
        ("Laceration without foreign body", True),
        ("Gastric ulcer", False),
        ("Diabetes without foot ulcer", False),
        ("Gastric ulcer; venous leg ulcer", True),
        ("Hypertension", False),
        ("", False),
    ],
)
def test_words_name_a_wound(text: str, expected: bool) -> None:
    assert names_wound(text) is expected


def test_the_words_of_a_concept_are_its_text_and_its_displays() -> None:
    concept = {"text": "a", "coding": [{"display": "b"}, {"code": "x"}, {"display": 5}]}
    assert list(texts_of(concept)) == ["a", "b"]
    assert [list(texts_of(one)) for one in (None, "a", {"text": 5}, {"coding": None})] == [[], [], [], []]
