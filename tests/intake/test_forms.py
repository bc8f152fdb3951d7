"""A reply to our form is one wound at one visit: those that it names, or the one wound that is there.

R4, QuestionnaireResponse: questionnaire names the form, linkId the question, author who wrote the answers down. Which
visit and wound it is of stands in our identifier or in two items of the form: a promise of ours.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.facts import facts
from tests.intake.foreign.inputs import AT, P, client, cm, visit, wound
from woundfhir import from_fhir

Json = Any
OURS = "https://w3id.org/woundfhir/Questionnaire/wound-visit"
W, X = wound("w"), wound("x")
MADE = "visit form-1: made from a form that names no visit and no wound"
DAY, FOUR = "2026-03-02 final", "length 4 cm"


def asked(link: str, value: Json) -> Json:
    kind = "valueQuantity" if isinstance(value, dict) else "valueString"
    return {"linkId": link, "answer": [{kind: value}]}


LENGTH = asked("assessment.length", cm(4))
NAMED = [asked("visit:id", "e"), asked("wound:id", "w")]


def reply(*items: Json, form: str | None = OURS, **more: Json) -> Json:
    made = {"resourceType": "QuestionnaireResponse", "id": "q", "status": "completed", "subject": P, "authored": AT}
    return {**made, **({"questionnaire": form} if form else {}), "item": [*(items or (LENGTH,))], **more}


BY = {"author": {"display": "Ann RN"}}
#: Case -> what came beside the client, the facts, and what was concluded.
CASES: dict[str, tuple[list[Json], list[str], list[str]]] = {
    "no wound is there": ([reply()], [f"{DAY} wound-form-1 {FOUR}"], [MADE]),
    "one wound is there": ([W, reply()], [f"{DAY} w {FOUR}"], [MADE]),
    "two wounds are there": ([W, X, reply()], [f"{DAY} wound-form-1 {FOUR}"], [MADE]),
    "a visit has the name of a new one": (
        [visit("form-1", period={"start": "2026-03-01"}), W, reply()],
        ["2026-03-01 final", f"{DAY} w {FOUR}"],
        [MADE.replace("form-1", "form-2")],
    ),
    "its form has a version": ([W, reply(form=f"{OURS}|0.1.0")], [f"{DAY} w {FOUR}"], [MADE]),
    "a form of somebody else": ([W, reply(form="http://site/form")], [], []),
    "a form without a name, of our questions": (
        [
            W,
            reply(LENGTH, asked("assessment.width", cm(3)), asked("assessment.depth", cm(1)), form=None),
        ],
        [f"{DAY} w depth 1 cm", f"{DAY} w {FOUR}", f"{DAY} w width 3 cm"],
        ["[2]: read as our form: its questions are", MADE],
    ),
    "it names them": ([X, reply(LENGTH, *NAMED)], [f"{DAY} w {FOUR}"], []),
    "it names those that are there": ([W, X, visit(), reply(LENGTH, *NAMED)], [f"{DAY} w {FOUR}"], []),
    "it names the visit alone": ([W, X, visit(), reply(LENGTH, NAMED[0])], [DAY, f"{DAY} wound-form-1 {FOUR}"], [MADE]),
    "it names the wound alone": ([W, X, reply(LENGTH, NAMED[1])], [f"{DAY} wound-form-1 {FOUR}"], [MADE]),
    "of two of one wound and visit the first": (
        [W, reply(LENGTH, *NAMED), reply(asked("assessment.length", cm(5)), *NAMED, id="r")],
        [f"{DAY} w {FOUR}"],
        [],
    ),
    "two of two wounds at one visit": (
        [W, reply(LENGTH, *NAMED), reply(LENGTH, NAMED[0], asked("wound:id", "x"), id="r")],
        [f"{DAY} w {FOUR}", f"{DAY} x {FOUR}"],
        [],
    ),
    "entered in error, and it names them": (
        [reply(LENGTH, *NAMED, status="entered-in-error")],
        [f"2026-03-02 entered in error w {FOUR}"],
        [],
    ),
    "entered in error, and it names none": ([W, reply(status="entered-in-error")], [], []),
    "a nurse": ([W, reply(**BY)], [f"{DAY} (Ann RN) w {FOUR}"], [MADE]),
    "a nurse, and another in the visit": (
        [W, visit(participant=[{"individual": {"display": "Bea RN"}}]), reply(LENGTH, *NAMED, **BY)],
        [f"{DAY} (Bea RN) w {FOUR}"],
        [],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_which_wound_and_visit_a_form_is_of(name: str) -> None:
    came, expected, inferred = CASES[name]
    history, report = from_fhir([client(), *came])
    assert (facts(history.data), list(report.inferred)) == (expected, inferred)
