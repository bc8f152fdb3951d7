"""The form: a visit written as a QuestionnaireResponse and read back."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import msgspec
import pytest
from hypothesis import given

from tests.strategies import records
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.fhir.form import write_response
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse
from woundfhir.package import definitions
from woundfhir.record import History

decode = msgspec.json.Decoder(float_hook=Decimal).decode
encode = msgspec.json.Encoder(decimal_format="number").encode


def back(history: History, visit: str, wound: str) -> History:
    found, _ = from_fhir([decode(encode(write_response(history, visit, wound)))])
    return found


@given(records())
def test_a_visit_comes_back_from_the_form_as_it_was(raw: dict[str, Any]) -> None:
    history = History.of(raw)
    for visit in history.visits:
        for entry in visit.get("wounds", ()):
            found = back(history, visit["id"], entry["wound"])
            (again,) = found.visits
            kept = {k: v for k, v in entry.items() if k not in ("photos", "note")}
            kept.get("plan", {}).pop("note", None)
            assert again["wounds"] == [{k: v for k, v in kept.items() if v != {}}]
            assert again.get("client") == visit.get("client")
            wound = {k: v for k, v in (history.wound(entry["wound"]) or {}).items() if k not in ("status", "note")}
            assert found.wounds == [wound]


def links(items: list[dict[str, Any]]) -> dict[str, str]:
    out = {}
    for item in items:
        out[item["linkId"]] = item["type"]
        out.update(links(item.get("item", [])))
    return out


def answers(items: list[dict[str, Any]]) -> list[tuple[str, dict[str, Any]]]:
    out = []
    for item in items:
        out += [(item["linkId"], answer) for answer in item.get("answer", ())]
        out += answers(item.get("item", []))
    return out


def test_every_answer_has_the_type_that_the_questionnaire_asks_for() -> None:
    """FHIR R4, QuestionnaireResponse: linkId and value type follow the Questionnaire's item."""
    known = links(json.loads(definitions()["Questionnaire-wound-visit.json"])["item"])
    fits = {
        "open-choice": {"valueCoding", "valueString"},
        "boolean": {"valueBoolean"},
        "quantity": {"valueQuantity"},
        "decimal": {"valueDecimal"},
        "integer": {"valueInteger"},
        "string": {"valueString"},
        "date": {"valueDate"},
    }
    history = parse(story(), "story").history
    seen = answers(write_response(history, "V1", "W2")["item"])
    assert len(seen) > 50
    for link, answer in seen:
        assert {key for key in answer if key.startswith("value")} <= fits[known[link]], link


def test_the_types_of_the_form_are_those_of_the_generated_questionnaire() -> None:
    from woundfhir.catalogue import catalogue

    known = links(json.loads(definitions()["Questionnaire-wound-visit.json"])["item"])
    for concept in catalogue().concepts(fields=True):
        if concept.path in known and fhir_shape(concept).spread != "shares":
            assert known[concept.path] == fhir_shape(concept).item_type(concept), concept.path


def test_a_form_that_names_no_visit_makes_one_and_says_so() -> None:
    made = {
        "resourceType": "QuestionnaireResponse",
        "questionnaire": "https://w3id.org/woundfhir/Questionnaire/wound-visit|0.1.0",
        "status": "completed",
        "item": [
            {
                "linkId": "assessment",
                "item": [{"linkId": "assessment.length", "answer": [{"valueQuantity": {"value": 4, "unit": "cm"}}]}],
            }
        ],
    }
    history, losses = from_fhir([made])
    assert history.visits[0]["wounds"][0]["assessment"] == {"length": "4 cm"}
    assert any("form" in line for line in losses.inferred)


def test_a_visit_that_is_not_there_is_told() -> None:
    with pytest.raises(InputError):
        write_response(parse(story(), "story").history, "V99", "W1")
