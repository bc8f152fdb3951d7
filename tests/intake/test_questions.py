"""Which finding a question of a form of others asks, and what a dressing change used.

R4: Questionnaire.item.code is "a terminology code that corresponds to this group or question", held to an answer by
linkId; QuestionnaireResponse.questionnaire is a canonical, with its version behind a bar; a group may repeat.
Procedure.usedReference: "items used during procedure", a Device, Medication or Substance. Codes: tests/data.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.facts import read
from tests.intake.foreign.inputs import AT, LOINC, P, client, cm, coded, wound
from woundfhir import from_fhir

Json = Any
FORM = "https://clinic.example/Questionnaire/visit"
LENGTH, WIDTH = "39126-8", "39125-0"


def question(link: str, code: str, **more: Json) -> Json:
    return {"linkId": link, "type": "quantity", "code": [{"system": LOINC, "code": code}], **more}


def group(link: str, *items: Json, **more: Json) -> Json:
    return {"linkId": link, "item": [*items], **more}


def form(*items: Json, **more: Json) -> Json:
    made = {"resourceType": "Questionnaire", "id": "f", "url": FORM, "version": "2", "status": "active"}
    return {**made, "item": [*items], **more}


def answer(link: str, value: Json) -> Json:
    return {"linkId": link, "answer": [{"valueQuantity": cm(value)}]}


def reply(*items: Json, **more: Json) -> Json:
    made = {"resourceType": "QuestionnaireResponse", "id": "q", "status": "completed", "subject": P, "authored": AT}
    return {**made, "questionnaire": f"{FORM}|2", "item": [*items], **more}


A, B = question("a", LENGTH), question("b", WIDTH)
FOUR, THREE = answer("a", 4), answer("b", 3)
L, W = "2026-03-02 no status w length 4 cm", "2026-03-02 no status w width 3 cm"
#: Case -> what came beside the client and one wound, and the facts.
CASES: dict[str, tuple[list[Json], list[str]]] = {
    "a form that came": ([form(A, B), reply(FOUR, THREE)], [L, W]),
    "questions in a group": ([form(group("g", A, type="group")), reply(group("g", FOUR))], [L]),
    "a form of which no version is asked": ([form(A), reply(FOUR, questionnaire=FORM)], [L]),
    "another version of the form": ([form(A), reply(FOUR, questionnaire=f"{FORM}|1")], []),
    "two forms of one address": ([form(A), form(B, id="g"), reply(FOUR)], []),
    "a contained form": ([reply(FOUR, questionnaire="#f", contained=[form(A)])], [L]),
    "a form named by its resource": ([form(A), reply(FOUR, questionnaire="Questionnaire/f")], [L]),
    "a form that did not come": ([reply(FOUR)], []),
    "not finished": ([form(A), reply(FOUR, status="in-progress")], []),
    "taken back": ([form(A), reply(FOUR, status="entered-in-error")], []),
    "a code that nobody knows": ([form(question("a", "x")), reply(FOUR)], []),
    "two codes of one question": ([form({**A, "code": [*A["code"], *B["code"]]}), reply(FOUR)], []),
    "a question that is asked twice": ([form(A, question("c", LENGTH)), reply(FOUR)], []),
    "a group for each of several wounds": (
        [form(group("g", A, B, type="group", repeats=True)), reply(group("g", FOUR), group("g", THREE))],
        [],
    ),
    "the same, named by codes": ([reply(group("g", answer(LENGTH, 4)), group("g", answer(WIDTH, 3)))], []),
    "two wounds": ([wound("x"), form(A), reply(FOUR)], []),
}


@pytest.mark.parametrize("name", CASES)
def test_what_a_form_of_others_says(name: str) -> None:
    came, expected = CASES[name]
    (found,) = read(client(), wound("w"), *came)
    assert [line.replace(" final ", " no status ") for line in found] == expected


def test_a_form_is_that_of_every_client_who_answers_it() -> None:
    numbers = [{"identifier": [{"system": "urn:example:mrn", "value": key}]} for key in "pq"]
    other = {"reference": "Patient/q"}
    came = [client(**numbers[0]), client("q", **numbers[1]), wound("w"), wound("x", of=other), form(A), reply(FOUR)]
    found = read(*came, reply(answer("a", 9), id="r", subject=other))
    assert [len(facts) for facts in found] == [1, 1] and "length 9 cm" in found[1][0]


FOAM = {"resourceType": "Device", "id": "d", "status": "active", "type": {"text": "foam"}, "lotNumber": "L7"}
GEL = {"resourceType": "Medication", "id": "m", "code": {"text": "honey gel"}, "batch": {"expirationDate": "2027-01"}}


@pytest.mark.parametrize(
    ("used", "came", "expected"),
    [
        ([{"reference": "Device/d"}], [FOAM], [{"item": "foam", "lot": "L7"}]),
        ([{"reference": "Medication/m"}], [GEL], [{"item": "honey gel", "expires": "2027-01"}]),
        ([{"reference": "Device/z", "display": "gauze"}], [], [{"item": "gauze"}]),
        ([{"reference": "Device/z"}], [], None),
        ([{"reference": "Device/d", "display": "foam"}], [{**FOAM, "status": "entered-in-error"}], None),
    ],
)
def test_what_a_dressing_change_used_is_its_supplies(used: list[Json], came: list[Json], expected: Json) -> None:
    change = {"resourceType": "Procedure", "id": "c", "status": "completed", "subject": P, "performedDateTime": AT}
    change |= {"code": coded("18949003"), "reasonReference": [{"reference": "Condition/w"}], "usedReference": used}
    history, losses = from_fhir([client(), wound("w"), change, *came])
    assert history.visits[0]["wounds"][0].get("supplies") == expected
    wanted = {"entered-in-error"} & {str(one.get("status")) for one in came}
    assert bool(losses.of("withdrawn")) is bool(wanted)
