"""What a program may fill in before the nurse does, worked out by a general FHIRPath engine (fhirpathpy, 2.2).

Outside sources: HL7 FHIR SDC, launchContext and initialExpression; FHIRPath (N1) as fhirpathpy reads it.
"""

from __future__ import annotations

import json
from typing import Any

import fhirpathpy
import msgspec
import pytest
from fhirpathpy.models import models

from tests.fhir.test_form import flat, questionnaire
from woundfhir import to_fhir
from woundfhir.demo import story
from woundfhir.fhir import form_items as items
from woundfhir.fhir.form import write_response
from woundfhir.intake.source import parse
from woundfhir.newnote.asked import data
from woundfhir.page.bedside import never_again

encode = msgspec.json.Encoder(decimal_format="number").encode
INITIAL = "http://hl7.org/fhir/uv/sdc/StructureDefinition/sdc-questionnaire-initialExpression"


def expressions() -> dict[str, str]:
    return {
        item["linkId"]: extension["valueExpression"]["expression"]
        for item in flat(questionnaire()["item"])
        for extension in item.get("extension", ())
        if extension["url"] == INITIAL
    }


def known(visit: str, wound: str) -> dict[str, Any]:
    """What a program knows when it opens the form again for a visit of the demo."""
    history = parse(story(), "story").history
    resources = json.loads(encode(to_fhir(history)))
    resources = [entry["resource"] for entry in resources["entry"]] if isinstance(resources, dict) else resources

    def at(kind: str, place: str) -> dict[str, Any]:
        named = (one for one in resources if one["resourceType"] == kind)
        return next(one for one in named if any(name["value"] == place for name in one.get("identifier", ())))

    return {
        "encounter": at("Encounter", visit),
        "wound": at("Condition", wound),
        "user": {"resourceType": "Practitioner", "name": [{"given": ["A"], "family": "Example"}]},
        "lastSize": at("Observation", f"{visit}/{wound}/size"),
        "lastExudate": at("Observation", f"{visit}/{wound}/exudate_amount"),
        "lastPlan": at("CarePlan", f"{visit}/{wound}/plan"),
    }


def test_who_which_wound_and_how_it_is_measured_are_filled_in() -> None:
    history = parse(story(), "story").history
    response = write_response(history, "V1", "W1")
    said = {item["linkId"]: item["answer"][0] for item in flat(response["item"]) if "answer" in item}
    context = known("V1", "W1")
    for link, expression in expressions().items():
        found = fhirpathpy.evaluate({}, expression, context, models["r4"])
        if link == f"{items.BY}.name":
            assert found == ["A Example"]
        elif link == "wound:more":
            assert found == [link in said]
        elif link in said:
            value = next(iter(said[link].values()))
            (filled,) = found
            if isinstance(value, dict):
                assert (filled["system"], filled["code"]) == (value["system"], value["code"]), link
            else:
                assert str(filled) == value, link
        else:
            assert found == [], link
    assert {"wound.kind", "wound.site", "assessment.measure_method", "plan.change_by"} <= said.keys()


def test_what_must_be_seen_anew_is_never_filled_in() -> None:
    carried = {f"{group}.{key}" for group, keys in data()["carried"].items() for key in keys}
    of_visit = {link for link in expressions() if ":" not in link and not link.startswith("wound.")}
    assert of_visit <= carried
    assert not of_visit & never_again()
    assert not [item["linkId"] for item in flat(questionnaire()["item"]) if "initial" in item]


def test_nothing_is_filled_in_of_nothing() -> None:
    empty: dict[str, Any] = {name: [] for name in ("encounter", "wound", "user", "lastSize", "lastExudate", "lastPlan")}
    for link, expression in expressions().items():
        assert fhirpathpy.evaluate({}, expression, empty, models["r4"]) in ([], [False], [""], [" "]), link


@pytest.mark.parametrize(("visit", "wound"), [("V1", "W1"), ("V1", "W2")])
def test_a_fhirpath_engine_shows_each_item_that_is_answered(visit: str, wound: str) -> None:
    """FHIR R4, enableWhen: each clause as FHIRPath over the response says that the answered item is shown."""
    response = json.loads(encode(write_response(parse(story(), "story").history, visit, wound)))
    answered = {item["linkId"] for item in flat(response["item"])}
    asked = [one for one in flat(questionnaire()["item"]) if one["linkId"] in answered and "enableWhen" in one]
    assert len(asked) > 10
    for item in asked:
        clauses = [
            fhirpathpy.evaluate(response, _clause(when), {}, models["r4"]) == [True] for when in item["enableWhen"]
        ]
        assert (any if item.get("enableBehavior") == "any" else all)(clauses), item["linkId"]


def _clause(when: dict[str, Any]) -> str:
    answers = f"repeat(item).where(linkId = '{when['question']}').answer.value"
    if when["operator"] == "exists":
        return f"{answers}.exists() = {str(when['answerBoolean']).lower()}"
    wanted = when.get("answerCoding", when)
    same = f"code = '{wanted['code']}'" if "code" in wanted else "$this = true"
    return f"{answers}.where({same}).exists()" + ("" if when["operator"] == "=" else " = false")
