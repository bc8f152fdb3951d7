"""Laws of the way in over resources made from the public models of FHIR R4, and not from our own output.

Whatever is valid is taken in: nothing crashes, no word and no number is lost, what is modified or withdrawn is no
fact, the order of the resources says nothing, and what goes out is read again as the same.
"""

from __future__ import annotations

from decimal import Decimal
from random import Random
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.intake.public import Making
from woundfhir.fhir import to_fhir
from woundfhir.intake.resources import from_fhir
from woundfhir.record import History

Json = Any
encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode
#: FHIR R4, EventStatus, ObservationStatus and their like: what did not happen, or was taken back.
_NO_FACTS = frozenset(("entered-in-error", "cancelled", "not-done"))


def said(history: History) -> dict[str, Json]:
    return {key: value for key, value in history.data.items() if key != "extra"}


def words(value: Json) -> str:
    return encode(value).decode()


@settings(max_examples=150, deadline=None)
@given(st.randoms(use_true_random=False), st.integers(1, 6))
def test_whatever_is_valid_is_taken_in_and_nothing_of_it_is_lost(random: Random, size: int) -> None:
    making = Making(random)
    came = decode(encode(making.bundle(size)))
    history, losses = from_fhir(came)
    whole, facts = words(history.data), words(said(history))
    for name, marks in making.marks.items():
        assert [one for one in marks if one not in whole] == []
        resource = next(one for one in came if name == f"{one['resourceType']}/{one['id']}")
        if "modifierExtension" in resource or resource.get("status") in _NO_FACTS or resource.get("doNotPerform"):
            assert [one for one in marks if one in facts] == []
            assert any(one.source == name for one in losses.items)
    other_way = from_fhir([came[0], *reversed(came[1:])])[0]
    assert other_way.data == history.data
    out = decode(encode(to_fhir(history)))
    assert [one for marks in making.marks.values() for one in marks if one not in words(out)] == []
    assert from_fhir(out)[0].data == history.data


@pytest.mark.parametrize("kind", ["QuestionnaireResponse", "CarePlan", "Procedure", "Media", "Observation"])
def test_a_resource_with_nothing_but_what_it_must_have_keeps_no_other_from_being_read(kind: str) -> None:
    """FHIR R4: QuestionnaireResponse.item is 0..*; an answer without items had the whole input refused."""
    making = Making(Random(0))
    least = {
        **{"resourceType": kind, "id": "x", "status": "completed", "subject": {"reference": "Patient/p"}},
        **({"code": {"text": "x"}} if kind == "Observation" else {"intent": "plan"} if kind == "CarePlan" else {}),
        **({"content": {}} if kind == "Media" else {}),
    }
    least["status"] = {"Observation": "final", "CarePlan": "active"}.get(kind, "completed")
    history, _ = from_fhir([*making.bundle(0), least])
    assert [wound["id"] for wound in history.wounds] == ["w"]
