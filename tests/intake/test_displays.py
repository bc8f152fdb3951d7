"""A code, and a display or a second code beside it that names something else: which is meant, only the sender knows.

R4, Coding.display: "a representation of the meaning of the code in the system". Codes and names are those of the tables
in ``tests/data``.
"""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import pytest

from tests.intake.facts import aside, read
from tests.intake.foreign.inputs import AT, LOINC, P, client, cm, coded, length, wound
from tests.intake.two_clients import ref
from woundfhir.fhir.read_context import CONFLICT
from woundfhir.intake.displays import names_two
from woundfhir.intake.resources import from_fhir
from woundfhir.maps import Target

Json = Any
HEEL = wound("w", bodySite=[{"text": "left heel"}])
OF_W = {"focus": [ref("Condition/w")]}
DISPLAY, CODES = "a display that names another entry than its code", "two codes that name different entries"
TEXT = "a text that names another answer than its code"
FOUR = ["2026-03-02 final w length 4 cm"]


def named(code: str, display: str | None = None) -> Json:
    return {"code": coded(code, display, LOINC)}


def two(*codes: str, system: str = LOINC) -> Json:
    return {"code": {"coding": [{"system": LOINC, "code": codes[0]}, {"system": system, "code": codes[1]}]}}


def l4(**more: Json) -> Json:
    return {**length("l", 4), **OF_W, **more}


def holding(*parts: Json) -> Json:
    made = {**length("l", 4), **OF_W, **named("72287-6"), "component": [*parts]}
    del made["valueQuantity"]
    return made


def exudate(text: str, code: str = "6736007", **more: Json) -> Json:
    """The amount of exudate, by a code of SNOMED CT (6736007: Moderate) and what stands beside it in words."""
    made = {**length("l", 4), **OF_W, **named("39116-9"), "valueCodeableConcept": {**coded(code), "text": text}, **more}
    del made["valueQuantity"]
    return made


WIDTH = {**named("39125-0"), "valueQuantity": cm(3)}
#: Case -> what came beside the client and the wound, the facts, and what of the whole was left aside.
CASES: dict[str, tuple[Json, list[str], str | None]] = {
    "the display of the code": (l4(**named("39126-8", "Length of Wound")), FOUR, None),
    "words of their own": (l4(**named("39126-8", "Wound size, longest")), FOUR, None),
    "the display of another": (l4(**named("39126-8", "Width of Wound")), [], DISPLAY),
    "two codes of two": (l4(**two("39126-8", "39125-0")), [], CODES),
    "two codes of one": (l4(**two("39126-8", "39126-8")), FOUR, None),
    "a code that nobody knows beside it": (l4(**two("39126-8", "1", system="urn:x")), FOUR, None),
    "a display of another in the second part": (
        holding(WIDTH, {**named("39126-8", "Depth of Wound"), "valueQuantity": cm(4)}),
        ["2026-03-02 final w width 3 cm"],
        None,
    ),
    "a display of another in a part, and nothing names the wound": (
        {
            key: value
            for key, value in holding(WIDTH, {**named("39126-8", "Depth of Wound"), "valueQuantity": cm(4)}).items()
            if key != "focus"
        },
        ["2026-03-02 final w width 3 cm"],
        None,
    ),
    "two codes in the first part": (
        holding({**two("39126-8", "39127-6"), "valueQuantity": cm(4)}, WIDTH),
        ["2026-03-02 final w width 3 cm"],
        None,
    ),
    # R4, CodeableConcept.text: "a human language representation of the concept as seen/selected/entered by the user".
    "words of another degree": (exudate("Copious"), [], TEXT),
    "words of another degree, in French": (exudate("très abondant"), [], TEXT),
    "none in words, something by its code": (exudate("none"), [], TEXT),
    "none by its code, something in words": (exudate("scant", "260413007"), [], TEXT),
    "the same in other words": (
        exudate("Moderate amount"),
        ["2026-03-02 final w exudate_amount Moderate amount"],
        None,
    ),
    "more in words than in the code": (
        exudate("moderate, more than last week"),
        ["2026-03-02 final w exudate_amount moderate"],
        None,
    ),
    "a place, and the wound is named": (l4(bodySite=coded("76853006", "Sacrum")), FOUR, None),
    "a place, and nothing names the wound": (
        length("l", 4, bodySite=coded("76853006", "Sacrum")),
        [],
        "names its wound by a place on the body alone, and contradicts itself there",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_what_contradicts_itself_is_no_fact_and_the_rest_is(name: str) -> None:
    came, facts, why = CASES[name]
    assert read(client(), HEEL, came) == [facts]
    assert aside(client(), HEEL, came) == ({f"conflict Observation/l: conflict: {why}"} if why else set())


@pytest.mark.parametrize("display", ["Skin tear", "Pressure injury"])
def test_a_wound_of_two_kinds_is_none(display: str) -> None:
    came = [client(), wound("w", code=coded("402863005", display))]
    assert aside(*came) == {f"conflict Condition/w: conflict: {DISPLAY}"}


def test_care_of_which_two_versions_name_two_places_is_of_no_wound() -> None:
    care = {"resourceType": "Procedure", "id": "c", "status": "completed", "subject": P, "performedDateTime": AT}
    care["code"] = coded("18949003", "Change of dressing")
    came = [{**care, "bodySite": [{"text": f"{side} heel"}]} for side in ("left", "right")]
    assert read(client(), HEEL, *came) == [[]]
    assert {line.split(":")[0] for line in aside(client(), HEEL, *came)} == {"conflict Procedure/c"}


class Meanings:
    """A table in which each code means what its letters say, one answer of one list each."""

    def meaning(self, system: str, code: str) -> list[Any]:
        return [SimpleNamespace(target=Target("answer", f"tissue/{one}"), read=True, loss=None) for one in code]


@pytest.mark.parametrize("codes", [("ab", "a", "b"), ("a", "abc", "c"), ("a", "b")])
def test_two_codes_that_share_nothing_contradict_whatever_a_third_means(codes: tuple[str, ...]) -> None:
    for some in itertools.permutations(codes):
        assert names_two({"coding": [{"system": "s", "code": one} for one in some]}, Meanings())  # type: ignore[arg-type]


@pytest.mark.parametrize("codes", [("ab", "a"), ("ab", "bc"), ("abc", "ab", "ac"), ("a",), ("a", "")])
def test_codes_that_share_a_meaning_agree(codes: tuple[str, ...]) -> None:
    for some in itertools.permutations(codes):
        assert not names_two({"coding": [{"system": "s", "code": one} for one in some]}, Meanings())  # type: ignore[arg-type]


LEFT = {"system": "http://snomed.info/sct", "code": "7771000"}
SIDES = "the left and the right side of the body are both named"
#: A wound's elements -> whether they name both sides. 7771000: Left (SNOMED CT).
BOTH_SIDES: dict[str, tuple[Json, bool]] = {
    "a code and the text beside it": ({"bodySite": [{"coding": [LEFT], "text": "right hip"}]}, True),
    "two places": ({"bodySite": [{"text": "left heel"}, {"text": "Right heel"}]}, True),
    "the side as a place of its own": ({"bodySite": [{"coding": [LEFT]}, {"text": "R heel"}]}, True),
    "the words of the wound": ({"code": {"text": "ulcer right leg"}, "bodySite": [{"text": "left lower leg"}]}, True),
    "in French": ({"code": {"text": "plaie jambe droite"}, "bodySite": [{"text": "jambe gauche"}]}, True),
    "two places of one side": ({"bodySite": [{"text": "left heel"}, {"text": "left ankle"}]}, False),
    "right of a line": ({"bodySite": [{"text": "left abdomen, right of the old scar"}]}, False),
    "both": ({"bodySite": [{"text": "both heels"}]}, False),
}


@pytest.mark.parametrize("name", BOTH_SIDES)
def test_a_wound_on_both_sides_has_no_place_until_somebody_looks(name: str) -> None:
    made, both = BOTH_SIDES[name]
    came = [client(), wound("w", **made)]
    history, report = from_fhir(came)
    assert ((f"conflict: {SIDES}", "Condition.bodySite") in {(one.why, one.path) for one in report.items}) == both
    found = history.wounds[0]
    assert [found.get("site") == CONFLICT, found.get("side") == CONFLICT] == [both, both]
