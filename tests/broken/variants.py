"""One sound document, and what real senders do to such documents: one fault a variant.

Written from HL7 FHIR R4 (4.0.1; datatypes, bundle, documents, references, narrative, extensibility), the LOINC Users'
Guide and the SNOMED CT Release File Specification (check digits), UCUM, and common practice in the field, without a
look at what the program finds.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from tests.paths import ROOT

Json = Any
Bundle = dict[str, Any]
LOINC, SNOMED, UCUM = "http://loinc.org", "http://snomed.info/sct", "http://unitsofmeasure.org"
#: A value of a client that no message may show.
MARK = "Zqxjv"
_SOUND = json.loads((ROOT / "examples/skin-tear/document.json").read_bytes())


def sound() -> Bundle:
    """Return the document, to be changed freely."""
    return deepcopy(_SOUND)


@dataclass(frozen=True)
class Variant:
    """A fault: its name, what makes it, words of which one must stand in what is said, and whether it is slight."""

    name: str
    break_: Callable[[Bundle], Json]
    words: tuple[str, ...]
    mild: bool

    def content(self) -> bytes:
        """Return the bytes of the broken document."""
        bundle = sound()
        made = self.break_(bundle)
        return made if isinstance(made, bytes) else json.dumps(bundle).encode()


VARIANTS: dict[str, Variant] = {}


def fault(*words: str, mild: bool = False) -> Callable[[Callable[[Bundle], Json]], Callable[[Bundle], Json]]:
    """Enter a variant under the name of its function; ``words``: the place or the fault, any of them."""

    def enter(function: Callable[[Bundle], Json]) -> Callable[[Bundle], Json]:
        assert function.__name__ not in VARIANTS
        VARIANTS[function.__name__] = Variant(function.__name__, function, words, mild)
        return function

    return enter


def _of(bundle: Bundle, kind: str, number: int = 0) -> Json:
    return [entry["resource"] for entry in bundle["entry"] if entry["resource"]["resourceType"] == kind][number]


def _entry(bundle: Bundle, resource: Json) -> Json:
    return next(entry for entry in bundle["entry"] if entry["resource"] is resource)


def _coded(bundle: Bundle, code: str) -> Json:
    """Return the first Observation with this code."""
    return next(
        entry["resource"]
        for entry in bundle["entry"]
        if entry["resource"]["resourceType"] == "Observation"
        and any(one["code"] == code for one in entry["resource"]["code"]["coding"])
    )


def _size(bundle: Bundle) -> Json:
    return _coded(bundle, "72287-6")


def _length(bundle: Bundle) -> Json:
    return _size(bundle)["component"][0]["valueQuantity"]


def _pain(bundle: Bundle) -> Json:
    return _coded(bundle, "72514-3")


def _again(bundle: Bundle, resource: Json) -> Json:
    """Add a copy of a resource, named anew, to the document and to the visit's panel."""
    made = deepcopy(resource)
    made["id"] = "11111111-2222-4333-8444-555555555555"
    bundle["entry"].append({"fullUrl": f"urn:uuid:{made['id']}", "resource": made})
    _coded(bundle, "39135-9")["hasMember"].append({"reference": f"urn:uuid:{made['id']}"})
    return made


def _put(holder: Json, **values: Json) -> None:
    holder.update(values)


# -- codes -----------------------------------------------------------------------------------------


@fault("display")
def display_of_another_code(b: Bundle) -> None:
    _size(b)["component"][0]["code"]["coding"][0]["display"] = "Width of Wound"


@fault("display")
def display_of_nothing(b: Bundle) -> None:
    _size(b)["component"][0]["code"]["coding"][0]["display"] = "Body temperature"


@fault("check digit")
def loinc_check_digit(b: Bundle) -> None:
    _pain(b)["code"]["coding"][0]["code"] = "72514-4"


@fault("check digit")
def loinc_check_digit_of_a_component(b: Bundle) -> None:
    _size(b)["component"][0]["code"]["coding"][0]["code"] = "39126-9"


@fault("check digit")
def snomed_check_digit(b: Bundle) -> None:
    _of(b, "Condition", 1)["code"]["coding"][0]["code"] = "428220002"


@fault("check digit")
def snomed_digits_swapped(b: Bundle) -> None:
    _of(b, "BodyStructure")["location"]["coding"][0]["code"] = "7542000"


@fault("code", "SNOMED")
def snomed_code_is_a_word(b: Bundle) -> None:
    _of(b, "BodyStructure")["location"]["coding"][0]["code"] = "forearm"


@fault("code", "LOINC")
def snomed_code_under_loinc(b: Bundle) -> None:
    _of(b, "Condition", 1)["code"]["coding"][0]["system"] = LOINC


@fault("status")
def code_that_the_value_set_lacks(b: Bundle) -> None:
    _size(b)["status"] = "complete"


@fault("clinicalStatus")
def clinical_status_that_the_value_set_lacks(b: Bundle) -> None:
    _of(b, "Condition", 1)["clinicalStatus"]["coding"][0]["code"] = "healed"


@fault("gender")
def gender_as_a_letter(b: Bundle) -> None:
    _of(b, "Patient")["gender"] = "M"


@fault("system")
def system_is_an_oid_without_urn(b: Bundle) -> None:
    _pain(b)["code"]["coding"][0]["system"] = "2.16.840.1.113883.6.1"


@fault("system", mild=True)
def code_without_system(b: Bundle) -> None:
    del _of(b, "Condition", 1)["code"]["coding"][0]["system"]


@fault("code")
def code_with_spaces_around(b: Bundle) -> None:
    _pain(b)["code"]["coding"][0]["code"] = " 72514-3 "


@fault("code-system", "CodeSystem", "code")
def our_own_code_that_is_not_there(b: Bundle) -> None:
    _coded(b, "healability")["valueCodeableConcept"]["coding"][0]["code"] = "healability-perhaps"


# -- quantities ------------------------------------------------------------------------------------


@fault("component[0]", "unit")
def unit_code_beside_another_unit(b: Bundle) -> None:
    _length(b)["code"] = "mm"


@fault("component[0]", "unit")
def unit_beside_another_unit_code(b: Bundle) -> None:
    _length(b)["unit"] = "inch"


@fault("component[0]", "unit", "Length")
def unit_that_ucum_does_not_have(b: Bundle) -> None:
    _put(_length(b), unit="centimetres", code="cms")


@fault("component[0]", "unit", "Length")
def unit_that_is_no_length(b: Bundle) -> None:
    _put(_length(b), unit="kg", code="kg")


@fault("Length", "component[0]")
def size_of_ten_to_the_thirty(b: Bundle) -> None:
    _length(b)["value"] = 10**30


@fault("Length", "component[0]")
def size_below_nothing(b: Bundle) -> None:
    _length(b)["value"] = -3.2


@fault("Length", "component[0]")
def size_as_a_text(b: Bundle) -> None:
    _length(b)["value"] = "3.2"


@fault("component[0]", "unit", "Length")
def quantity_without_unit(b: Bundle) -> None:
    _size(b)["component"][0]["valueQuantity"] = {"value": 3.2}


@fault("component[0]", "qty-3")
def unit_code_without_system(b: Bundle) -> None:
    del _length(b)["system"]


@fault("issue of the bed", "share", "Share", "component[0]")
def share_over_a_hundred(b: Bundle) -> None:
    _coded(b, "72371-8")["component"][0]["valueQuantity"]["value"] = 120


@fault("issue of the bed", "issue percentages", "share")
def shares_of_110_together(b: Bundle) -> None:
    tissue = _coded(b, "72371-8")
    more = _again(b, tissue)
    more["component"][0]["valueQuantity"]["value"] = 10
    more["identifier"][0]["value"] = "V1/W1/tissue/tissue-granulation"
    _put(more["valueCodeableConcept"], text="granulation")
    more["valueCodeableConcept"]["coding"] = [{"system": SNOMED, "code": "225544001", "display": "Granulating"}]


@fault("Pain", "pain")
def score_beyond_its_scale(b: Bundle) -> None:
    _pain(b)["valueQuantity"]["value"] = 14


@fault("obs-7", "component", "value")
def value_and_a_reason_for_its_absence(b: Bundle) -> None:
    _pain(b)["dataAbsentReason"] = {"text": "not asked"}


@fault("value")
def two_values_of_a_choice(b: Bundle) -> None:
    _pain(b)["valueString"] = MARK


# -- times -----------------------------------------------------------------------------------------


@fault("birth", "born")
def birth_after_the_visits(b: Bundle) -> None:
    _of(b, "Patient")["birthDate"] = "2026-05-30"


@fault("birthDate", "born", mild=True)
def birth_in_the_nineteenth_century(b: Bundle) -> None:
    _of(b, "Patient")["birthDate"] = "1839"


@fault("deceased")
def deceased_before_the_visits(b: Bundle) -> None:
    _of(b, "Patient")["deceasedDateTime"] = "2025-12-24"


@fault("birth", "born", "effective")
def finding_before_birth(b: Bundle) -> None:
    _size(b)["effectiveDateTime"] = "1931-05-04T14:20:00-04:00"


@fault("future", "after today", "period")
def visit_in_the_future(b: Bundle) -> None:
    for entry in b["entry"]:
        text = json.dumps(entry["resource"]).replace("2026-05-18", "2031-05-18")
        entry["resource"] = json.loads(text)


@fault("effectiveDateTime")
def finding_years_from_its_visit(b: Bundle) -> None:
    _size(b)["effectiveDateTime"] = "2023-05-04T14:20:00-04:00"


@fault("period", "per-1")
def end_before_the_start(b: Bundle) -> None:
    _of(b, "Encounter")["period"] = {"start": "2026-05-04T14:20:00-04:00", "end": "2026-05-04T13:20:00-04:00"}


@fault("abatement", "onset", "con-")
def healed_before_it_began(b: Bundle) -> None:
    _of(b, "Condition", 1)["abatementDateTime"] = "2026-04-18"


@fault("effectiveDateTime")
def impossible_time_zone(b: Bundle) -> None:
    _size(b)["effectiveDateTime"] = "2026-05-04T14:20:00+25:00"


@fault("effectiveDateTime")
def time_without_zone(b: Bundle) -> None:
    _size(b)["effectiveDateTime"] = "2026-05-04T14:20:00"


@fault("birthDate")
def date_with_strokes(b: Bundle) -> None:
    _of(b, "Patient")["birthDate"] = "02/03/1939"


@fault("onset")
def thirtieth_of_february(b: Bundle) -> None:
    _of(b, "Condition", 1)["onsetDateTime"] = "2026-02-30"


@fault("timestamp")
def timestamp_is_a_date(b: Bundle) -> None:
    b["timestamp"] = "2026-05-18"


@fault("timestamp", "date", "future", mild=True)
def timestamp_before_the_visits(b: Bundle) -> None:
    b["timestamp"] = "2019-05-18T09:20:00-04:00"


# -- elements --------------------------------------------------------------------------------------


@fault("status")
def required_element_missing(b: Bundle) -> None:
    del _size(b)["status"]


@fault("subject", "client")
def condition_without_subject(b: Bundle) -> None:
    del _of(b, "Condition", 1)["subject"]


@fault("resourceType", "resource")
def resource_type_that_is_none(b: Bundle) -> None:
    _size(b)["resourceType"] = "WoundMeasurement"


@fault("entry[", "Observation", "resource")
def resource_under_another_type(b: Bundle) -> None:
    _size(b)["resourceType"] = "Condition"


@fault("entry[", "resource")
def entry_without_resource(b: Bundle) -> None:
    del b["entry"][20]["resource"]


@fault("category")
def empty_array(b: Bundle) -> None:
    _size(b)["category"] = []


@fault("dataAbsentReason", "note", "method")
def empty_object(b: Bundle) -> None:
    _size(b)["method"] = {}


@fault("title")
def empty_text(b: Bundle) -> None:
    _of(b, "Composition")["title"] = ""


@fault("severity")
def null_for_nothing(b: Bundle) -> None:
    _of(b, "Condition", 1)["severity"] = None


@fault("given")
def one_where_a_list_stands(b: Bundle) -> None:
    _of(b, "Patient")["name"][0]["given"] = MARK


@fault("status")
def a_list_where_one_stands(b: Bundle) -> None:
    _size(b)["status"] = ["final"]


@fault("woundDepth", "structure", "element", "?")
def element_that_r4_does_not_have(b: Bundle) -> None:
    _size(b)["woundDepth"] = MARK


@fault("active")
def a_text_for_true(b: Bundle) -> None:
    _of(b, "Patient")["active"] = "true"


@fault("system")
def identifier_without_system(b: Bundle) -> None:
    del _of(b, "Patient")["identifier"][0]["system"]


@fault("language")
def language_that_is_none(b: Bundle) -> None:
    _of(b, "Composition")["language"] = "english (Canada)"


@fault("extension")
def extension_without_url(b: Bundle) -> None:
    del _of(b, "Patient")["extension"][0]["url"]


@fault("extension", "2 kept under", mild=True)
def extension_that_nobody_knows(b: Bundle) -> None:
    _of(b, "Patient")["extension"].append({"url": "http://example.org/fhir/shoe", "valueString": MARK})


@fault("modifierExtension")
def modifier_extension_that_nobody_knows(b: Bundle) -> None:
    _size(b)["modifierExtension"] = [{"url": "http://example.org/fhir/not", "valueBoolean": True}]


@fault("profile", mild=True)
def profile_that_nobody_knows(b: Bundle) -> None:
    _size(b)["meta"]["profile"] = ["http://example.org/fhir/StructureDefinition/size"]


@fault("profile", mild=True)
def profile_of_ours_that_is_not_there(b: Bundle) -> None:
    _size(b)["meta"]["profile"] = ["https://w3id.org/woundfhir/StructureDefinition/observation-sizes"]


@fault("profile")
def profile_of_another_type(b: Bundle) -> None:
    _size(b)["meta"]["profile"] = ["https://w3id.org/woundfhir/StructureDefinition/patient"]


# -- the Bundle and its references -----------------------------------------------------------------


@fault("fullUrl")
def full_url_of_another_id(b: Bundle) -> None:
    _entry(b, _size(b))["fullUrl"] = "http://example.org/fhir/Observation/other"


@fault("fullUrl")
def full_url_that_is_relative(b: Bundle) -> None:
    _entry(b, _of(b, "AllergyIntolerance"))["fullUrl"] = "AllergyIntolerance/1"


@fault("fullUrl")
def full_url_that_is_no_uuid(b: Bundle) -> None:
    _entry(b, _of(b, "AllergyIntolerance"))["fullUrl"] = "urn:uuid:12"


@fault("fullUrl")
def full_url_missing(b: Bundle) -> None:
    del _entry(b, _of(b, "AllergyIntolerance"))["fullUrl"]


@fault("fullUrl")
def two_resources_with_one_full_url(b: Bundle) -> None:
    b["entry"][25]["fullUrl"] = b["entry"][24]["fullUrl"]


@fault("id", "fullUrl")
def two_resources_with_one_id(b: Bundle) -> None:
    b["entry"][25]["resource"]["id"] = b["entry"][24]["resource"]["id"]


@fault("version", "fullUrl", "came", "again")
def two_versions_of_one_resource(b: Bundle) -> None:
    older = deepcopy(_entry(b, _pain(b)))
    _put(older["resource"]["meta"], versionId="1")
    older["resource"]["valueQuantity"]["value"] = 7
    _put(_pain(b)["meta"], versionId="2")
    b["entry"].append(older)


@fault("reference", "focus")
def reference_to_what_is_not_there(b: Bundle) -> None:
    _size(b)["focus"][0]["reference"] = "urn:uuid:00000000-1111-4222-8333-444444444444"


@fault("reference", "encounter")
def relative_reference_to_what_is_not_there(b: Bundle) -> None:
    _size(b)["encounter"]["reference"] = "Encounter/none"


@fault("reference", "encounter")
def reference_to_another_type(b: Bundle) -> None:
    _size(b)["encounter"]["reference"] = _size(b)["subject"]["reference"]


@fault("reference", "type")
def reference_with_another_type_beside_it(b: Bundle) -> None:
    _size(b)["encounter"]["type"] = "Patient"


@fault("contained", "#", "reference")
def reference_to_nothing_contained(b: Bundle) -> None:
    _of(b, "Provenance")["agent"][0]["who"]["reference"] = "#hardware"


@fault("contained", "dom-3")
def contained_and_never_referred_to(b: Bundle) -> None:
    _size(b)["contained"] = [{"resourceType": "Practitioner", "id": "nurse"}]


@fault("hasMember", "circle", "itself")
def observation_that_is_its_own_member(b: Bundle) -> None:
    panel = _coded(b, "39135-9")
    panel["hasMember"].append({"reference": f"urn:uuid:{panel['id']}"})


@fault("partOf", "circle", "itself")
def procedures_that_are_part_of_each_other(b: Bundle) -> None:
    one, other = _of(b, "Procedure", 0), _of(b, "Procedure", 1)
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
    _of(b, "Composition")["subject"]["reference"] = f"urn:uuid:{other}"


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


# -- narrative and attachments ---------------------------------------------------------------------


@fault("div", "text", "script")
def narrative_with_a_script(b: Bundle) -> None:
    text = _of(b, "Composition")["text"]
    text["div"] = text["div"].replace("</div>", "<script>alert(1)</script></div>")


@fault("div", "text")
def narrative_that_is_not_closed(b: Bundle) -> None:
    text = _of(b, "Composition")["text"]
    text["div"] = text["div"].removesuffix("</div>")


@fault("div", "text")
def narrative_without_its_namespace(b: Bundle) -> None:
    text = _of(b, "Composition")["text"]
    text["div"] = text["div"].replace(' xmlns="http://www.w3.org/1999/xhtml"', "")


def _media(b: Bundle, **content: Json) -> None:
    """Add a picture that the assessment was derived from."""
    media = {"resourceType": "Media", "id": "11111111-2222-4333-8444-555555555559", "status": "completed"}
    media["subject"] = _size(b)["subject"]
    media["content"] = {"contentType": "image/png", "data": "aGVsbG8=", **content}
    b["entry"].append({"fullUrl": f"urn:uuid:{media['id']}", "resource": media})
    _size(b)["derivedFrom"] = [{"reference": f"urn:uuid:{media['id']}"}]


@fault("hash")
def hash_that_does_not_fit(b: Bundle) -> None:
    _media(b, hash="2jmj7l5rSw0yVb/vlWAYkK/YBwk=")


@fault("content.size", "size")
def size_of_an_attachment_that_does_not_fit(b: Bundle) -> None:
    _media(b, size=77)


@fault("data", "base64")
def data_that_is_no_base64(b: Bundle) -> None:
    _media(b, data="*not base64*")


@fault("contentType", "att-1")
def attachment_without_content_type(b: Bundle) -> None:
    _media(b)
    del b["entry"][-1]["resource"]["content"]["contentType"]


# -- the file --------------------------------------------------------------------------------------


@fault("twice", "JSON", "key", "name")
def one_name_twice_in_an_object(b: Bundle) -> bytes:
    return (
        json.dumps(b).replace('"resourceType": "Patient",', '"resourceType": "Patient", "birthDate": "1941",').encode()
    )


@fault("JSON", "line", "end")
def file_cut_off(b: Bundle) -> bytes:
    return json.dumps(b).encode()[:-400]


@fault("UTF-8", "utf-8", "encod")
def file_in_latin_1(b: Bundle) -> bytes:
    _of(b, "Patient")["name"][0]["family"] = MARK + "é"
    return json.dumps(b, ensure_ascii=False).encode("latin-1", "ignore")


@fault("JSON", "number", "NaN")
def number_that_is_none(b: Bundle) -> bytes:
    _length(b)["value"] = float("nan")
    return json.dumps(b).encode()
