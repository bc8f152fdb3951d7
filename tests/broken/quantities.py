"""Faults in amounts, units, shares and scores."""

from __future__ import annotations

from tests.broken.sound import MARK, SNOMED, Bundle, copied, fault, length, observation, pain, put, size_panel


@fault("component[0]", "unit")
def unit_code_beside_another_unit(b: Bundle) -> None:
    length(b)["code"] = "mm"


@fault("component[0]", "unit")
def unit_beside_another_unit_code(b: Bundle) -> None:
    length(b)["unit"] = "inch"


@fault("component[0]", "unit", "Length")
def unit_that_ucum_does_not_have(b: Bundle) -> None:
    put(length(b), unit="centimetres", code="cms")


@fault("component[0]", "unit", "Length")
def unit_that_is_no_length(b: Bundle) -> None:
    put(length(b), unit="kg", code="kg")


@fault("Length", "component[0]")
def size_of_ten_to_the_thirty(b: Bundle) -> None:
    length(b)["value"] = 10**30


@fault("Length", "component[0]")
def size_below_nothing(b: Bundle) -> None:
    length(b)["value"] = -3.2


@fault("Length", "component[0]")
def size_as_a_text(b: Bundle) -> None:
    length(b)["value"] = "3.2"


@fault("component[0]", "unit", "Length")
def quantity_without_unit(b: Bundle) -> None:
    size_panel(b)["component"][0]["valueQuantity"] = {"value": 3.2}


@fault("component[0]", "qty-3")
def unit_code_without_system(b: Bundle) -> None:
    del length(b)["system"]


@fault("issue of the bed", "share", "Share", "component[0]")
def share_over_a_hundred(b: Bundle) -> None:
    observation(b, "72371-8")["component"][0]["valueQuantity"]["value"] = 120


@fault("issue of the bed", "issue percentages", "share")
def shares_of_110_together(b: Bundle) -> None:
    tissue = observation(b, "72371-8")
    more = copied(b, tissue)
    more["component"][0]["valueQuantity"]["value"] = 10
    more["identifier"][0]["value"] = "V1/W1/tissue/tissue-granulation"
    put(more["valueCodeableConcept"], text="granulation")
    more["valueCodeableConcept"]["coding"] = [{"system": SNOMED, "code": "225544001", "display": "Granulating"}]


@fault("Pain", "pain")
def score_beyond_its_scale(b: Bundle) -> None:
    pain(b)["valueQuantity"]["value"] = 14


@fault("obs-7", "component", "value")
def value_and_a_reason_for_its_absence(b: Bundle) -> None:
    pain(b)["dataAbsentReason"] = {"text": "not asked"}


@fault("value")
def two_values_of_a_choice(b: Bundle) -> None:
    pain(b)["valueString"] = MARK
