"""Short forms that nurses and clerks write have the code of the answer that they stand for.

Forms: common practice, no source. Codes: HL7 FHIR R4 4.0.1 (administrative-gender), SNOMED CT as in ``data/codes.tsv``.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

import woundfhir
from woundfhir.catalogue import catalogue
from woundfhir.output import render

NONE = "260413007"


def record(assessment: dict[str, Any], **patient: str) -> woundfhir.History:
    note = {"wound": "w1", "assessment": assessment}
    visits = [{"id": "v1", "at": "2026-03-02T10:00-05:00", "status": "final", "wounds": [note]}]
    made = {"woundfhir": 1, "patient": {"name": {"family": "Invented"}, **patient}, "wounds": [{"id": "w1"}]}
    return woundfhir.loads(json.dumps({**made, "visits": visits}))


def written(history: woundfhir.History) -> list[Any]:
    return [entry["resource"] for entry in json.loads(render(history, "fhir-json"))["entry"]]


@pytest.mark.parametrize("form", ["N", "n", "neg", "NEG.", "Negative", "no", "nil", "0"])
@pytest.mark.parametrize("listed", ["odour", "exudate_amount", "bleeding", "infection_signs", "systemic_signs"])
def test_no_in_any_spelling_is_none_in_a_list_that_has_none(form: str, listed: str) -> None:
    found = catalogue().answers[listed].find(form)
    assert found is not None and found.word == "none"


def test_no_is_not_none_where_a_list_has_no_such_answer_and_a_dash_says_nothing() -> None:
    answers = catalogue().answers
    assert answers["pulses"].find("N") is None and answers["periwound"].find("N") is None
    assert answers["odour"].find("-") is None and answers["odour"].find("") is None
    assert answers["odour"].find("no odour") is answers["odour"].find("none")


def test_an_odour_of_n_is_no_odour_and_comes_back_as_written() -> None:
    history = record({"odour": "N"})
    (one,) = [r for r in written(history) if r["resourceType"] == "Observation" and "valueCodeableConcept" in r]
    assert [coding["code"] for coding in one["valueCodeableConcept"]["coding"]] == [NONE]
    assert one["valueCodeableConcept"]["text"] == "N"
    again = woundfhir.loads(render(history, "fhir-json").decode())
    assert again.data == history.data
    plain, said = (
        {(finding.rule, finding.path) for finding in woundfhir.check(record({"odour": word}))} for word in ("none", "N")
    )
    assert plain == said


@pytest.mark.parametrize(
    ("form", "code"),
    [("F", "female"), ("f", "female"), ("M", "male"), ("X", "other"), ("female", "female"), ("U", "unknown")],
)
def test_a_short_form_of_sex_has_its_code_and_comes_back_as_written(form: str, code: str) -> None:
    history = record({"odour": "none"}, sex=form, born="1950-01-01")
    (patient,) = [one for one in written(history) if one["resourceType"] == "Patient"]
    assert patient["gender"] == code
    assert woundfhir.loads(render(history, "fhir-json").decode()).patient["sex"] == form


@pytest.mark.parametrize(
    ("listed", "form", "word"),
    [
        ("side", "L", "left"),
        ("side", "R", "right"),
        ("exudate_amount", "XLarge", "large"),
        ("dressing", "abd pad", "absorbent pad"),
    ],
)
def test_other_short_forms(listed: str, form: str, word: str) -> None:
    found = catalogue().answers[listed].find(form)
    assert found is not None and found.word == word
