"""The form as other programs and hands write it: what is read, what is kept and named, and that nothing is invented.

The inputs are written by hand after FHIR R4, QuestionnaireResponse, and what renderers save; no code of ours made them.
"""

from __future__ import annotations

from typing import Any

import pytest

from woundfhir.intake.resources import from_fhir

YES = {"valueCoding": {"system": "http://snomed.info/sct", "code": "373066001"}}
NONE = {"valueCoding": {"system": "http://snomed.info/sct", "code": "260413007"}}


def item(link: str, *answers: Any, inside: Any = ()) -> dict[str, Any]:
    made: dict[str, Any] = {"linkId": link}
    return made | ({"answer": list(answers)} if answers else {}) | ({"item": list(inside)} if inside else {})


def cm(number: Any, **more: Any) -> dict[str, Any]:
    return {"valueQuantity": {"value": number, "unit": "cm", **more}}


#: What it is -> the items, what the record says of the assessment, how many places are named as not taken.
CASES: dict[str, tuple[list[dict[str, Any]], dict[str, Any], int]] = {
    "a code without its system": (
        [item("assessment.odour", {"valueCoding": {"code": "260413007"}})],
        {"odour": "none"},
        0,
    ),
    "a display alone": ([item("assessment.odour", {"valueCoding": {"display": "Faint"}})], {"odour": "Faint"}, 0),
    "words in place of an option": ([item("assessment.odour", {"valueString": "none"})], {"odour": "none"}, 0),
    "a code that nobody knows": ([item("assessment.odour", {"valueCoding": {"system": "urn:x", "code": "q"}})], {}, 1),
    "a number without a unit": ([item("assessment.length", {"valueInteger": 4})], {"length": "4"}, 0),
    "null where there is nothing": ([item("assessment.length", cm(4, comparator=None))], {"length": "4 cm"}, 0),
    "an answer that is null": ([item("assessment.length", {"valueQuantity": None})], {}, 0),
    "a bound": ([item("assessment.length", cm(4, comparator="<"))], {"length": "<4 cm"}, 0),
    "a decimal for a whole number": ([item("assessment.pain_at_rest", {"valueDecimal": 3})], {"pain_at_rest": "3"}, 0),
    "a box for yes and no": (
        [item("assessment.odour_after_cleansing", {"valueBoolean": False})],
        {"odour_after_cleansing": "no"},
        0,
    ),
    "no by a box before a group": ([item("assessment.tunnels:any", {"valueBoolean": False})], {"tunnels": "none"}, 0),
    "yes, and nothing more": ([item("assessment.tunnels:any", YES)], {}, 1),
    "a reason without its system": (
        [item("assessment.depth:why", {"valueCoding": {"code": "not-performed"}})],
        {"depth": {"absent": "not performed"}},
        0,
    ),
    "none, and one all the same": (
        [
            item("assessment.tunnels:any", NONE),
            item("assessment.tunnels", inside=[item("assessment.tunnels.depth", cm(2))]),
        ],
        {"tunnels": [{"depth": "2 cm"}]},
        1,
    ),
    "an answer, and why there is none": (
        [item("assessment.depth", cm(2)), item("assessment.depth:why", {"valueString": "not seen"})],
        {"depth": "2 cm"},
        1,
    ),
    "two answers to one question": (
        [item("assessment.odour", {"valueString": "faint"}, {"valueString": "strong"})],
        {"odour": "faint"},
        1,
    ),
    "a share of nothing": (
        [item("assessment.tissue", inside=[item("assessment.tissue.share", {"valueInteger": 30})])],
        {},
        1,
    ),
    "another type": ([item("assessment.depth", {"valueTime": "10:00:00"})], {}, 1),
    "a question that is not ours": ([item("mood", {"valueString": "good"})], {}, 1),
}


@pytest.mark.parametrize("whole", [True, False], ids=["in its part", "without its part"])
@pytest.mark.parametrize("name", CASES)
def test_what_others_write_is_read_or_named(name: str, whole: bool) -> None:
    items, said, named = CASES[name]
    form = {
        "resourceType": "QuestionnaireResponse",
        "id": "others",
        "questionnaire": "https://w3id.org/woundfhir/Questionnaire/wound-visit",
        "status": "completed",
        "item": [{"linkId": "assessment", "item": items}] if whole else items,
    }
    history, losses = from_fhir([form])
    (visit,) = history.visits
    (entry,) = visit["wounds"]
    assert entry.get("assessment", {}) == said
    assert len([loss for loss in losses.items if ".item" in loss.path]) == named
    assert '"others"' in str(history.data["extra"])  # and the whole of it is kept as it came


OURS = "https://w3id.org/woundfhir/Questionnaire/wound-visit"
NAMED: dict[str, dict[str, Any]] = {
    "the server's own address": {"questionnaire": "http://server.example/fhir/Questionnaire/77"},
    "no address": {},
    "contained": {"questionnaire": "#q", "contained": [{"resourceType": "Questionnaire", "id": "q", "url": OURS}]},
    "another version": {"questionnaire": f"{OURS}|99.0"},
}


@pytest.mark.parametrize("name", NAMED)
def test_our_form_is_read_however_it_is_named(name: str) -> None:
    asked = [item(f"assessment.{key}", cm(number)) for key, number in (("length", 4), ("width", 3), ("depth", 1))]
    filled = {"resourceType": "QuestionnaireResponse", "status": "completed", "item": asked, **NAMED[name]}
    history, _ = from_fhir(filled)
    sizes = [entry["assessment"] for visit in history.visits for entry in visit["wounds"]]
    assert sizes == [{"length": "4 cm", "width": "3 cm", "depth": "1 cm"}]
    history, losses = from_fhir({**filled, "item": [*asked, item("17.3", cm(9))]})
    assert bool(history.visits) is (name in ("contained", "another version"))
    assert len(losses.items) > 0
