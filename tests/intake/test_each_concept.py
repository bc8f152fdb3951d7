"""Law: an answer to any question survives the trip to FHIR and back, by itself and with nothing beside it."""

from __future__ import annotations

from typing import Any

import pytest

from woundfhir.catalogue import Concept, catalogue
from woundfhir.fhir import to_fhir
from woundfhir.intake.resources import from_fhir
from woundfhir.record import History
from woundfhir.record.shapes import shape_of

Json = Any
AT = "2026-03-02T10:00:00-05:00"


def answers(concept: Concept) -> list[Json]:
    """Answers of the concept's own words: the first, the last, and several at once where it takes several."""
    shape = shape_of(concept)
    found: list[Json] = [text for text in (shape.examples(concept) or ["two words"]) if text]
    if concept.shape == "choices":
        return [[found[0]], [found[-1]], found[:2]]
    if concept.shape == "share":
        return [{found[0]: "60 %", found[-1]: "40 %"}]
    if concept.is_group:
        held = {key: answers(field)[0] for key, field in concept.fields.items()}
        return [[held, held] if concept.many else held]
    return [found[0], found[-1]]


def record(concept: Concept, answer: Json) -> History:
    client, entry = {}, {"wound": "W1"}
    held: dict[str, Json] = {concept.key: answer}
    if concept.group == "client":
        client = held
    else:
        entry[concept.group] = held
    visit = {"id": "V1", "at": AT, "client": client, "wounds": [entry]}
    return History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]})


CONCEPTS = [one for group in ("client", "assessment", "care", "plan") for one in catalogue().groups[group].values()]


@pytest.mark.parametrize("concept", CONCEPTS, ids=lambda concept: concept.path)
def test_an_answer_alone_survives_the_trip(concept: Concept) -> None:
    for answer in answers(concept):
        made = record(concept, answer)
        back, _ = from_fhir(to_fhir(made))
        assert back.data == made.data, f"{concept.path}: {answer}"
