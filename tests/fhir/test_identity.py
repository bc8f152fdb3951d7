"""Record -> FHIR -> record is the identity, for any record that the models admit."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import msgspec
from hypothesis import given, settings

from tests.strategies import records
from woundfhir.fhir import to_fhir
from woundfhir.intake.resources import from_fhir
from woundfhir.record import History

encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode


@settings(max_examples=150)
@given(records())
def test_a_record_comes_back_from_fhir_as_it_went_in(raw: dict[str, Any]) -> None:
    history = History.of(raw)
    back, losses = from_fhir(decode(encode(to_fhir(history))))
    assert back.data == history.data
    assert encode(back.data) == encode(history.data)
    assert {one.kind for one in losses.items} <= ({"kept"} if history.extra else set())  # what the record carries


@settings(max_examples=60)
@given(records())
def test_the_models_admit_every_canonical_record(raw: dict[str, Any]) -> None:
    history = History.of(raw)
    model = history.record
    assert [wound.id for wound in model.wounds] == [wound["id"] for wound in history.wounds]
    assert History.of(history.data).data == history.data


def test_a_wound_whose_name_is_a_number_keeps_its_order() -> None:
    wounds = [{"id": "W1"}, {"id": "0"}, {"id": "3"}, {"id": "2"}]
    history = History.of({"woundfhir": 1, "patient": {}, "wounds": wounds, "visits": []})
    assert from_fhir(to_fhir(history))[0].data["wounds"] == wounds
