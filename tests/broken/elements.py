"""Faults in elements: missing, empty, of another type, unknown."""

from __future__ import annotations

from tests.broken.sound import MARK, Bundle, fault, resource_of, size_panel


@fault("status")
def required_element_missing(b: Bundle) -> None:
    del size_panel(b)["status"]


@fault("subject", "client")
def condition_without_subject(b: Bundle) -> None:
    del resource_of(b, "Condition", 1)["subject"]


@fault("resourceType", "resource")
def resource_type_that_is_none(b: Bundle) -> None:
    size_panel(b)["resourceType"] = "WoundMeasurement"


@fault("entry[", "Observation", "resource")
def resource_under_another_type(b: Bundle) -> None:
    size_panel(b)["resourceType"] = "Condition"


@fault("entry[", "resource")
def entry_without_resource(b: Bundle) -> None:
    del b["entry"][20]["resource"]


@fault("category")
def empty_array(b: Bundle) -> None:
    size_panel(b)["category"] = []


@fault("dataAbsentReason", "note", "method")
def empty_object(b: Bundle) -> None:
    size_panel(b)["method"] = {}


@fault("title")
def empty_text(b: Bundle) -> None:
    resource_of(b, "Composition")["title"] = ""


@fault("severity")
def null_for_nothing(b: Bundle) -> None:
    resource_of(b, "Condition", 1)["severity"] = None


@fault("given")
def one_where_a_list_stands(b: Bundle) -> None:
    resource_of(b, "Patient")["name"][0]["given"] = MARK


@fault("status")
def a_list_where_one_stands(b: Bundle) -> None:
    size_panel(b)["status"] = ["final"]


@fault("woundDepth", "structure", "element", "?")
def element_that_r4_does_not_have(b: Bundle) -> None:
    size_panel(b)["woundDepth"] = MARK


@fault("active")
def a_text_for_true(b: Bundle) -> None:
    resource_of(b, "Patient")["active"] = "true"


@fault("system")
def identifier_without_system(b: Bundle) -> None:
    del resource_of(b, "Patient")["identifier"][0]["system"]


@fault("language")
def language_that_is_none(b: Bundle) -> None:
    resource_of(b, "Composition")["language"] = "english (Canada)"


@fault("extension")
def extension_without_url(b: Bundle) -> None:
    del resource_of(b, "Patient")["extension"][0]["url"]


@fault("extension", "2 kept under", mild=True)
def extension_that_nobody_knows(b: Bundle) -> None:
    resource_of(b, "Patient")["extension"].append({"url": "http://example.org/fhir/shoe", "valueString": MARK})


@fault("modifierExtension")
def modifier_extension_that_nobody_knows(b: Bundle) -> None:
    size_panel(b)["modifierExtension"] = [{"url": "http://example.org/fhir/not", "valueBoolean": True}]


@fault("profile", mild=True)
def profile_that_nobody_knows(b: Bundle) -> None:
    size_panel(b)["meta"]["profile"] = ["http://example.org/fhir/StructureDefinition/size"]


@fault("profile", mild=True)
def profile_of_ours_that_is_not_there(b: Bundle) -> None:
    size_panel(b)["meta"]["profile"] = ["https://w3id.org/woundfhir/StructureDefinition/observation-sizes"]


@fault("profile")
def profile_of_another_type(b: Bundle) -> None:
    size_panel(b)["meta"]["profile"] = ["https://w3id.org/woundfhir/StructureDefinition/patient"]
