"""Faults in codes, systems and displays."""

from __future__ import annotations

from tests.broken.sound import LOINC, Bundle, fault, observation, pain, resource_of, size_panel


@fault("display")
def display_of_another_code(b: Bundle) -> None:
    size_panel(b)["component"][0]["code"]["coding"][0]["display"] = "Width of Wound"


@fault("display")
def display_of_nothing(b: Bundle) -> None:
    size_panel(b)["component"][0]["code"]["coding"][0]["display"] = "Body temperature"


@fault("check digit")
def loinc_check_digit(b: Bundle) -> None:
    pain(b)["code"]["coding"][0]["code"] = "72514-4"


@fault("check digit")
def loinc_check_digit_of_a_component(b: Bundle) -> None:
    size_panel(b)["component"][0]["code"]["coding"][0]["code"] = "39126-9"


@fault("check digit")
def snomed_check_digit(b: Bundle) -> None:
    resource_of(b, "Condition", 1)["code"]["coding"][0]["code"] = "428220002"


@fault("check digit")
def snomed_digits_swapped(b: Bundle) -> None:
    resource_of(b, "BodyStructure")["location"]["coding"][0]["code"] = "7542000"


@fault("code", "SNOMED")
def snomed_code_is_a_word(b: Bundle) -> None:
    resource_of(b, "BodyStructure")["location"]["coding"][0]["code"] = "forearm"


@fault("code", "LOINC")
def snomed_code_under_loinc(b: Bundle) -> None:
    resource_of(b, "Condition", 1)["code"]["coding"][0]["system"] = LOINC


@fault("status")
def code_that_the_value_set_lacks(b: Bundle) -> None:
    size_panel(b)["status"] = "complete"


@fault("clinicalStatus")
def clinical_status_that_the_value_set_lacks(b: Bundle) -> None:
    resource_of(b, "Condition", 1)["clinicalStatus"]["coding"][0]["code"] = "healed"


@fault("gender")
def gender_as_a_letter(b: Bundle) -> None:
    resource_of(b, "Patient")["gender"] = "M"


@fault("system")
def system_is_an_oid_without_urn(b: Bundle) -> None:
    pain(b)["code"]["coding"][0]["system"] = "2.16.840.1.113883.6.1"


@fault("system", mild=True)
def code_without_system(b: Bundle) -> None:
    del resource_of(b, "Condition", 1)["code"]["coding"][0]["system"]


@fault("code")
def code_with_spaces_around(b: Bundle) -> None:
    pain(b)["code"]["coding"][0]["code"] = " 72514-3 "


@fault("code-system", "CodeSystem", "code")
def our_own_code_that_is_not_there(b: Bundle) -> None:
    observation(b, "healability")["valueCodeableConcept"]["coding"][0]["code"] = "healability-perhaps"
