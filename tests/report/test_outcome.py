"""OperationOutcome: every expression evaluates to one element of what came in, by a general FHIRPath engine."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec
import pytest

from tests.checklist.samples import demo
from tests.paths import hl7_examples
from tests.report.samples import clean, judged
from woundfhir.chart.views import RecordView
from woundfhir.checklist import judge
from woundfhir.checklist.policy import load
from woundfhir.intake.source import parse
from woundfhir.output import render as convert
from woundfhir.r4 import jsonio, xmlio
from woundfhir.r4.definitions import codes
from woundfhir.record import quantity
from woundfhir.report import Judged, render
from woundfhir.report.elements import Elements

Json = Any
#: R4, OperationOutcome.issue.expression: element names, repetition indicators and the default child accessor alone.
SIMPLE = re.compile(r"[A-Z][A-Za-z]+(\[\d+\])?(\.[a-z][A-Za-z]*(\[\d+\])?)*")


def evaluate(resource: Json, expression: str) -> list[Json]:
    """Evaluate with fhirpathpy, a general FHIRPath engine, on the model of R4."""
    engine = pytest.importorskip("fhirpathpy", reason="fhirpathpy (extra: test) evaluates FHIRPath")
    from fhirpathpy.models import models

    return engine.evaluate(resource, expression, {}, models["r4"])  # type: ignore[no-any-return]


@lru_cache(maxsize=1)
def story() -> tuple[Json, Elements, RecordView]:
    """The story as a FHIR Bundle that came in, its elements, and the record that was read from it."""
    content = convert(demo(), "fhir-json")
    came = parse(content, "story.json")
    return (
        msgspec.json.decode(content),
        Elements(came.history, came.kind, came.content),
        RecordView(came.history, load("ontario")),
    )


def leaves() -> list[tuple[str, Json]]:
    record = story()[2]
    entries = [entry for visit in record.visits for entry in visit.entries]
    return [(leaf.path, leaf.value) for view in (*record.wounds, *record.visits, *entries) for leaf in view.leaves()]


def test_every_answer_of_the_story_is_one_element_that_holds_it() -> None:
    bundle, elements, _ = story()
    texts = {}
    for path, value in leaves():
        expression = elements.expression(path)
        assert SIMPLE.fullmatch(expression), expression
        if expression not in texts:
            found = evaluate(bundle, expression)
            assert len(found) == 1, (path, expression)
            texts[expression] = msgspec.json.encode(found[0]).decode()
        if value == "none" or not isinstance(value, str):
            continue
        said = texts[expression]
        written = quantity.parse(value)
        number = written is not None and any(Decimal(n) == written.value for n in re.findall(r"-?\d+(?:\.\d+)?", said))
        flag = {"yes": "true", "no": "false"}.get(value, value) == said
        assert number or flag or value in said.encode().decode("unicode_escape", "replace") or value in said, (
            path,
            expression,
        )


@pytest.mark.parametrize(
    ("path", "end"),
    [
        ("patient.name", ".name[0]"),
        ("patient.allergies[0].to", ".code"),
        ("wounds[1].onset", ".onset"),
        ("visits[0].at", ".period"),
        ("visits[0].by.designation", ".participant[0]"),
        ("visits[0].wounds[0].assessment.length", ".component[0].value"),
        ("visits[0].wounds[0].assessment.tissue", ".value"),
        ("visits[0].wounds[0].supplies[0].item", ".suppliedItem.item"),
        ("visits[0].wounds[0].plan.next_change", ".detail.scheduled"),
        ("visits[0].wounds[0].plan.goal", ".description"),
    ],
)
def test_where_an_answer_stands(path: str, end: str) -> None:
    bundle, elements, _ = story()
    expression = elements.expression(path)
    assert expression.endswith(end), expression
    assert len(evaluate(bundle, expression)) == 1


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("visits[4].wounds[0].care.cleansing", "Procedure"),
        ("visits[4].wounds[0].plan.referral", "CarePlan"),
        ("visits[0].wounds[0].assessment.push_total", "Observation"),
        ("visits[0].wounds[0].photos", "Observation"),
        ("visits[1].client.seating", "Encounter"),
        ("visits[0].written", "Encounter"),
        ("wounds[0].closed", "Condition"),
        ("patient.note", "Patient"),
        ("patient", "Patient"),
        ("", "Patient"),
        ("extra[0]", "Patient"),
    ],
)
def test_what_is_not_written_is_named_by_the_nearest_thing_that_is(path: str, kind: str) -> None:
    bundle, elements, _ = story()
    found = evaluate(bundle, elements.expression(path))
    assert [one["resourceType"] for one in found] == [kind]


@pytest.mark.parametrize("form", ["fhir-json", "fhir-xml", "record"])
def test_the_outcome_of_each_form_of_the_story_evaluates_on_what_came(form: str) -> None:
    content = convert(demo(), form)
    came = parse(content, "story")
    outcome = msgspec.json.decode(
        render([Judged("story", judge(came.history), came.history, came.kind, content)], "outcome")
    )
    if form == "fhir-xml":
        bundle = msgspec.json.decode(jsonio.encode(xmlio.decode(content)))
    else:  # A record is named as `convert --to fhir-json` writes it.
        bundle = msgspec.json.decode(convert(demo(), "fhir-json"))
    assert outcome["issue"]
    for issue in outcome["issue"]:
        assert len(evaluate(bundle, issue["expression"][0])) == 1, issue


def test_resources_one_a_line_are_named_by_their_own_type() -> None:
    content = convert(demo(), "ndjson")
    came = parse(content, "story.ndjson")
    elements = Elements(came.history, came.kind, content)
    assert elements.expression("visits[0].wounds[0].assessment.length") == "Observation.component[0].value"


def examples() -> list[Path]:
    return hl7_examples()


def test_resources_of_another_guide_are_named_where_they_are_read() -> None:
    """The HL7 skin and wound example resources: each issue's expression evaluates on the resource that came."""
    seen = 0
    for path in examples():
        content = path.read_bytes()
        came = parse(content, path.name)
        resource = msgspec.json.decode(jsonio.encode(xmlio.decode(content)))
        elements = Elements(came.history, came.kind, content)
        record = RecordView(came.history, load("ontario"))
        views = (*record.wounds, *record.visits, *(entry for visit in record.visits for entry in visit.entries))
        for leaf in (leaf for view in views for leaf in view.leaves()):
            expression = elements.expression(leaf.path)
            seen += 1
            assert len(evaluate(resource, expression)) >= 1, (path.name, leaf.path, expression)
    assert seen > 5


@pytest.mark.parametrize("coding", ["x", 5, ["x"], [{"system": ["x"], "code": {}}]])
def test_what_is_broken_in_a_resource_that_is_not_read_hinders_no_report(coding: Json) -> None:
    """Found by tools/fuzz.py: a request, whose structure nobody looks at."""
    about = {"subject": {"reference": "Patient/p"}}
    order = {"resourceType": "ServiceRequest", "status": "active", "intent": "order", **about}
    resources = (
        {"resourceType": "Patient", "id": "p", "birthDate": "1948"},
        {"resourceType": "Condition", "id": "c", "code": {"text": "burn"}, **about},
        {**order, "id": "o", "code": {"coding": coding}, "focus": 5, "reasonReference": [5, {"reference": 5}]},
    )
    content = json.dumps({"resourceType": "Bundle", "entry": [{"resource": one} for one in resources]}).encode()
    came = parse(content, "story.json")
    found = Elements(came.history, came.kind, came.content)
    assert found.expression("patient.born") == "Bundle.entry[0].resource.birthDate"


def test_the_outcome_is_one_of_r4() -> None:
    """Structure by fhir.resources (R4B, the same in R4); codes by the value sets of R4 (issue-severity, issue-type)."""
    from fhir.resources.R4B.operationoutcome import OperationOutcome

    made = msgspec.json.decode(render([judged()], "outcome"))
    OperationOutcome.model_validate(made)
    admitted = {"severity": codes("issue-severity"), "code": codes("issue-type")}
    for issue in made["issue"]:
        for key, systems in admitted.items():
            assert issue[key] in frozenset().union(*systems.values()), issue
    levels = ["error", "error", "error", "error", "warning", "warning", "information", "information"]
    assert [issue["severity"] for issue in made["issue"]] == levels
    assert "[site XX01, visits[0].wounds[0].assessment.length]" in made["issue"][0]["diagnostics"]


def test_a_clean_record_and_several_inputs() -> None:
    made = msgspec.json.decode(render([clean()], "outcome"))
    assert made["issue"] == [{"severity": "information", "code": "informational", "details": {"text": "Complete."}}]
    both = msgspec.json.decode(render([judged(), replace(judged(show_values=True), name="b.yaml")], "outcome"))
    assert "a note.yaml, visits[0]" in both["issue"][0]["diagnostics"]
    assert "Found: <4> cm" in both["issue"][-1]["diagnostics"]
