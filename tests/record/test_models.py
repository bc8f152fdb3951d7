"""Typed models: every record goes into them and comes back."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import Any, get_args

import pytest
from hypothesis import given
from pydantic import ValidationError

from tests.strategies import records
from tools import build_models
from woundfhir import models
from woundfhir.catalogue import catalogue, frame
from woundfhir.models import Absent, Assessment, DateText, Entry, Patient, QuantityText, Record, Visit, Wound
from woundfhir.record import History


@given(records())
def test_each_record_goes_into_models_and_comes_back_as_it_was(raw: dict[str, Any]) -> None:
    history = History.of(raw)
    record = history.record
    assert History(record.plain()).json() == history.json()
    assert History.of(record) == history and Record.of(record.plain()) == record


def test_the_module_is_what_the_catalogue_says() -> None:
    assert build_models.FILE.read_text("utf-8") == build_models.module(), "run tools/build_models.py"


def test_every_concept_and_key_is_a_field_with_its_question() -> None:
    text = build_models.FILE.read_text("utf-8")
    flat = " ".join(text.split())
    for key in frame().every_key():
        holder = getattr(models, build_models.camel(key.path.split(".")[0]))
        assert build_models.name_of(key.key) in holder.model_fields, key.path
        assert key.question in flat, key.path
    for concept in catalogue().concepts(fields=True):
        holder = getattr(models, build_models.camel(*filter(None, (concept.group, concept.of))))
        assert build_models.name_of(concept.key) in holder.model_fields, concept.path
        assert concept.question.replace('"', "'") in flat, concept.path


def test_the_listed_words_stand_in_the_type_and_others_are_taken() -> None:
    known = {word for one in get_args(models.WoundKindWords) for word in get_args(one)}
    answers = catalogue().answers["wound_kind"]
    assert known >= {word.word for word in answers.words}
    assert Wound(id="W1", kind="as the surgeon calls it").kind == "as the surgeon calls it"


def test_texts_give_their_number_and_their_moment() -> None:
    length = QuantityText("<4.10 cm")
    seen = Assessment(length=length, depth=Absent(absent="not assessed"))
    record = Record(
        woundfhir=1,
        patient=Patient(born=DateText("1948-03")),
        wounds=[Wound(id="W1")],
        visits=[Visit(id="V1", at=DateText("2026-03-02T10:05:00-05:00"), wounds=[Entry(wound="W1", assessment=seen)])],
    )
    found = History.of(record).record
    at = found.visits[0].at
    assert at is not None and at.date == datetime.date(2026, 3, 2)
    assert at.datetime == datetime.datetime(2026, 3, 2, 15, 5, tzinfo=datetime.UTC)
    entry = (found.visits[0].wounds or [])[0]
    assert entry.assessment is not None and entry.assessment.depth == Absent(absent="not assessed")
    again = entry.assessment.length
    assert isinstance(again, QuantityText) and (again.comparator, again.unit) == ("<", "cm")
    assert again.number == Decimal("4.10") and str(again.number) == "4.10"
    assert found.patient.born is not None and found.patient.born.datetime is None


def test_a_key_that_is_a_word_of_python_has_an_underscore() -> None:
    raw = {"woundfhir": 1, "patient": {}, "colour": "blue"}
    kept = History.of(raw).record.extra
    assert kept is not None and kept[0].from_ == "record" and kept[0].plain()["from"] == "record"


@pytest.mark.parametrize(
    "raw", [{"id": "W1", "Marker": "x"}, {"id": "W1", "onset": 3}, {"kind": "Marker"}, {"id": "", "kind": "Marker"}]
)
def test_what_is_no_record_is_refused_without_its_value(raw: dict[str, Any]) -> None:
    with pytest.raises(ValidationError) as error:
        Wound.of(raw)
    assert "Marker" not in str(error.value).replace("\nMarker\n", "")
