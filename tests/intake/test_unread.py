"""The work list of a site: the codes that came and were not read, as the beginning of a map."""

from __future__ import annotations

from typing import Any

from tests.intake.foreign.inputs import AT, LOINC, P, client, coded
from woundfhir import from_fhir
from woundfhir.intake.unread import unread, write

Json = Any
SITE = "urn:site"
HOW_USED = coded("vital-signs", system="http://terminology.hl7.org/CodeSystem/observation-category")


def seen(name: str, code: Json, **more: Json) -> Json:
    made = {"resourceType": "Observation", "id": name, "status": "final", "subject": P, "effectiveDateTime": AT}
    return {**made, "code": code, **(more or {"valueString": "odd"})}


CAME = [
    client(),
    seen("1", coded("x1", "Slough", SITE), valueCodeableConcept=coded("v1", "  Very \t much ", SITE)),
    seen("2", coded("x1", None, SITE), valueCodeableConcept=coded("v2", None, SITE)),
    seen("3", coded("99999-9", "Exudate amount", LOINC)),
    seen("4", coded("8867-4", "Heart rate", LOINC), category=[HOW_USED], valueQuantity={"value": 80}),
    seen("5", coded("x2", None, SITE), component=[{"code": coded("x1", "Another name", SITE), "valueString": "odd"}]),
    seen("6", {"coding": [{"code": "no system"}, {"system": SITE}]}),
]
HEAD = "subject_id\tsubject_label\tpredicate_id\tobject_id\tcomment\tcount\tplaces\n"
FIRST = "urn:site|x1\tSlough\t\t\tperhaps answer:tissue/slough{}\t3\tObservation.code 2; Observation.component.code 1\n"
REST = (
    "loinc:8867-4\tHeart rate\t\t\t\t1\tObservation.code 1\n"
    "loinc:99999-9\tExudate amount\t\t\tperhaps concept:assessment.exudate_amount\t1\tObservation.code 1\n"
    "urn:site|v1\tVery much\t\t\t\t1\tObservation.valueCodeableConcept 1\n"
    "urn:site|v2\t\t\t\t\t1\tObservation.valueCodeableConcept 1\n"
    "urn:site|x2\t\t\t\t\t1\tObservation.code 1\n"
)


def test_each_code_has_a_line_with_its_name_what_it_may_be_how_often_and_where() -> None:
    """A code without a system names nothing (R4, Coding.system), and HL7's own say how a resource is used."""
    _, report = from_fhir(CAME)
    found = unread([report])
    assert write(found) == HEAD + FIRST.format("") + REST
    assert write(found[:1], {(SITE, "x1"): "known \n here"}) == HEAD + FIRST.format("; known here")
    assert [one.count for one in unread([report, report])] == [6, 2, 2, 2, 2, 2]
    assert write([]) == HEAD


def test_a_code_that_is_known_needs_no_map_though_it_was_left_aside() -> None:
    came = [client(), seen("1", coded("39126-8", "Length of Wound", LOINC)), seen("2", coded("x", None, SITE))]
    assert [one.code for one in unread([from_fhir(came)[1]])] == ["x"]
