"""Faults in the Bundle, its names and its references."""

from __future__ import annotations

from copy import deepcopy

from tests.broken.sound import MARK, Bundle, entry_of, fault, observation, pain, put, resource_of, size_panel


@fault("fullUrl")
def full_url_of_another_id(b: Bundle) -> None:
    entry_of(b, size_panel(b))["fullUrl"] = "http://example.org/fhir/Observation/other"


@fault("fullUrl")
def full_url_that_is_relative(b: Bundle) -> None:
    entry_of(b, resource_of(b, "AllergyIntolerance"))["fullUrl"] = "AllergyIntolerance/1"


@fault("fullUrl")
def full_url_that_is_no_uuid(b: Bundle) -> None:
    entry_of(b, resource_of(b, "AllergyIntolerance"))["fullUrl"] = "urn:uuid:12"


@fault("fullUrl")
def full_url_missing(b: Bundle) -> None:
    del entry_of(b, resource_of(b, "AllergyIntolerance"))["fullUrl"]


@fault("fullUrl")
def two_resources_with_one_full_url(b: Bundle) -> None:
    b["entry"][25]["fullUrl"] = b["entry"][24]["fullUrl"]


@fault("id", "fullUrl")
def two_resources_with_one_id(b: Bundle) -> None:
    b["entry"][25]["resource"]["id"] = b["entry"][24]["resource"]["id"]


@fault("version", "fullUrl", "came", "again")
def two_versions_of_one_resource(b: Bundle) -> None:
    older = deepcopy(entry_of(b, pain(b)))
    put(older["resource"]["meta"], versionId="1")
    older["resource"]["valueQuantity"]["value"] = 7
    put(pain(b)["meta"], versionId="2")
    b["entry"].append(older)


@fault("reference", "focus")
def reference_to_what_is_not_there(b: Bundle) -> None:
    size_panel(b)["focus"][0]["reference"] = "urn:uuid:00000000-1111-4222-8333-444444444444"


@fault("reference", "encounter")
def relative_reference_to_what_is_not_there(b: Bundle) -> None:
    size_panel(b)["encounter"]["reference"] = "Encounter/none"


@fault("reference", "encounter")
def reference_to_another_type(b: Bundle) -> None:
    size_panel(b)["encounter"]["reference"] = size_panel(b)["subject"]["reference"]


@fault("reference", "type")
def reference_with_another_type_beside_it(b: Bundle) -> None:
    size_panel(b)["encounter"]["type"] = "Patient"


@fault("contained", "#", "reference")
def reference_to_nothing_contained(b: Bundle) -> None:
    resource_of(b, "Provenance")["agent"][0]["who"]["reference"] = "#hardware"


@fault("contained", "dom-3")
def contained_and_never_referred_to(b: Bundle) -> None:
    size_panel(b)["contained"] = [{"resourceType": "Practitioner", "id": "nurse"}]


@fault("hasMember", "circle", "itself")
def observation_that_is_its_own_member(b: Bundle) -> None:
    panel = observation(b, "39135-9")
    panel["hasMember"].append({"reference": f"urn:uuid:{panel['id']}"})


@fault("partOf", "circle", "itself")
def procedures_that_are_part_of_each_other(b: Bundle) -> None:
    one, other = resource_of(b, "Procedure", 0), resource_of(b, "Procedure", 1)
    one["partOf"] = [{"reference": f"urn:uuid:{other['id']}"}]
    other["partOf"] = [{"reference": f"urn:uuid:{one['id']}"}]


@fault("Composition", "bdl-11")
def document_without_composition_first(b: Bundle) -> None:
    b["entry"].append(b["entry"].pop(0))


@fault("Composition")
def two_compositions(b: Bundle) -> None:
    more = deepcopy(b["entry"][0])
    more["resource"]["id"] = "11111111-2222-4333-8444-555555555556"
    more["fullUrl"] = f"urn:uuid:{more['resource']['id']}"
    b["entry"].append(more)


@fault("subject", "client", mild=True)  # `check` parts the two clients; `receive` takes neither in
def composition_of_another_client(b: Bundle) -> None:
    other = "11111111-2222-4333-8444-555555555557"
    who = {"resourceType": "Patient", "id": other, "name": [{"family": MARK}], "birthDate": "1950-01-01"}
    who["identifier"] = [{"system": "urn:example:clinic", "value": "C-9999"}]
    b["entry"].append({"fullUrl": f"urn:uuid:{other}", "resource": who})
    resource_of(b, "Composition")["subject"]["reference"] = f"urn:uuid:{other}"


@fault("Patient", "client", "subject")
def document_without_its_client(b: Bundle) -> None:
    b["entry"] = [entry for entry in b["entry"] if entry["resource"]["resourceType"] != "Patient"]


@fault("total", "bdl-1")
def total_in_a_document(b: Bundle) -> None:
    b["total"] = 3


@fault("request", "bdl-3")
def request_in_a_document(b: Bundle) -> None:
    b["entry"][5]["request"] = {"method": "POST", "url": "BodyStructure"}


@fault("search", "bdl-2")
def search_in_a_document(b: Bundle) -> None:
    b["entry"][5]["search"] = {"mode": "match"}


@fault("identifier", "bdl-9")
def document_without_identifier(b: Bundle) -> None:
    del b["identifier"]


@fault("type")
def bundle_type_that_is_none(b: Bundle) -> None:
    b["type"] = "dokument"


@fault("entry[", "resource", "reached", "leads to")
def resource_that_nothing_leads_to(b: Bundle) -> None:
    plan = {"resourceType": "Basic", "id": "11111111-2222-4333-8444-555555555558", "code": {"text": MARK}}
    b["entry"].append({"fullUrl": f"urn:uuid:{plan['id']}", "resource": plan})


@fault("reference", "kept", mild=True)
def reference_that_is_a_word(b: Bundle) -> None:
    put(resource_of(b, "Procedure"), encounter={"reference": "yesterday"})
