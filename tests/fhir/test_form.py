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


def holds(history: History, found: History, visit: dict[str, Any], entry: dict[str, Any]) -> None:
    """What the form says of one wound at one visit, word for word; pictures are no part of it."""
    (again,) = found.visits
    kept = {key: value for key, value in entry.items() if key != "photos" and value not in ({}, [])}
    assert again["wounds"] == [kept]
    own = {key: value for key, value in visit.items() if key not in ("wounds", "status") and value != {}}
    assert {key: value for key, value in again.items() if key not in ("wounds", "status")} == own
    assert again["status"] == visit.get("status", "final")
    assert found.wounds == [history.wound(entry["wound"])]


def without_extensions(value: Any) -> Any:
    """A resource as somebody keeps it who knows no extension of ours, nor any other."""
    if isinstance(value, dict):
        return {key: without_extensions(one) for key, one in value.items() if key not in ("extension", "_authored")}
    return [without_extensions(one) for one in value] if isinstance(value, list) else value


def shown(question: dict[str, Any], above: list[list[dict[str, Any]]]) -> bool:
    """Whether an item is shown: FHIR R4, Questionnaire.item.enableWhen, written here from the standard."""

    def answered(link: str) -> list[Any]:
        for level in above:
            if found := [one for one in level if one["linkId"] == link]:
                return [next(iter(answer.values())) for item in found for answer in item.get("answer", ())]
        return []

    def holds_for(when: dict[str, Any]) -> bool:
        found = answered(when["question"])
        if when["operator"] == "exists":
            return bool(found) == when["answerBoolean"]
        wanted = next(value for key, value in when.items() if key.startswith("answer"))
        if isinstance(wanted, dict):
            equal = [isinstance(one, dict) and one.get("code") == wanted["code"] for one in found]
        else:
            equal = [one == wanted for one in found]
        return any(equal) if when["operator"] == "=" else not all(equal)

    clauses = [holds_for(when) for when in question.get("enableWhen", ())]
    return not clauses or (any if question.get("enableBehavior") == "any" else all)(clauses)


def flat(items: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [one for item in items for one in (item, *flat(item.get("item", [])))]


def rendered(
    questions: list[dict[str, Any]], items: list[dict[str, Any]], above: list[list[dict[str, Any]]]
) -> list[dict[str, Any]]:
    """Items as a renderer saves them: hidden ones dropped, the last question first, each with its text."""
    out = []
    for question in reversed(questions):
        if not shown(question, above):
            continue
        for item in (one for one in items if one["linkId"] == question["linkId"]):
            again = {"text": question.get("text", ""), **item}
            if "item" in item:
                again["item"] = rendered(question["item"], item["item"], [flat(item["item"]), *above])
            out.append(again)
    return out


@given(records())
def test_a_visit_comes_back_from_the_form_as_it_was(raw: dict[str, Any]) -> None:
    """As it was written; without any extension; and as a renderer saves it: the nurse's answers, word for word."""
    questions = questionnaire()["item"]
    history = History.of(raw)
    for visit in history.visits:
        for entry in visit.get("wounds", ()):
            holds(history, back(history, visit["id"], entry["wound"]), visit, entry)
            response = without_extensions(decode(encode(write_response(history, visit["id"], entry["wound"]))))
            response = {key: value for key, value in response.items() if key not in ("identifier", "author")}
            response["item"] = rendered(questions, response["item"], [flat(response["item"])])
            found, losses = from_fhir([response])
            holds(history, found, visit, entry)
            assert [loss.path for loss in losses.items if ".item" in loss.path] == []


def test_nothing_in_a_form_stands_in_an_extension() -> None:
    history = parse(story(), "story").history
    seen = [(visit["id"], entry["wound"]) for visit in history.visits for entry in visit.get("wounds", ())]
    assert len(seen) > 4
    for visit_id, wound_id in seen:
        items = write_response(history, visit_id, wound_id)["item"]
        assert items and items == without_extensions(items)


def questionnaire() -> dict[str, Any]:
    return json.loads(definitions()["Questionnaire-wound-visit.json"])  # type: ignore[no-any-return]


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
        "text": {"valueString"},
        "choice": {"valueCoding"},
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


def test_a_visit_that_is_not_there_is_reported() -> None:
    with pytest.raises(InputError):
        write_response(parse(story(), "story").history, "V99", "W1")
