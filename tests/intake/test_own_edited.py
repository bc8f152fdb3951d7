"""Our own outputs as they come back: their entries in another order, or under the ids of a server."""

from __future__ import annotations

import random
from typing import Any

import pytest

from tests.intake.foreign.guides import GUIDES
from woundfhir import bundle, from_fhir
from woundfhir.r4 import jsonio
from woundfhir.record import History

Json = Any
SERVER = "http://one.example.org/fhir"


def served(made: Json) -> Json:
    """A Bundle as a server gives it back: other ids, its addresses, references that follow."""
    names: dict[str, str] = {}
    entries = jsonio.decode(jsonio.encode(made))["entry"]
    for number, entry in enumerate(entries):
        one = entry["resource"]
        name = f"{one['resourceType']}/{5000 + number}"
        names |= {f"{one['resourceType']}/{one.get('id')}": name, entry.get("fullUrl", ""): name}
        one["id"], entry["fullUrl"] = str(5000 + number), f"{SERVER}/{name}"
        entry.pop("request", None)

    def renamed(value: Json, key: str = "") -> Json:
        if isinstance(value, dict):
            return {k: renamed(item, k) for k, item in value.items()}
        if isinstance(value, list):
            return [renamed(item) for item in value]
        return names.get(value, value) if key == "reference" else value

    return {"resourceType": "Bundle", "type": "searchset", "entry": renamed(entries)}


@pytest.mark.parametrize("kind", ["collection", "transaction"])
@pytest.mark.parametrize("name", sorted(GUIDES))
def test_no_wound_is_made_of_what_comes_back_from_a_server(name: str, kind: Any) -> None:
    history = from_fhir([jsonio.decode(jsonio.encode(_exact(GUIDES[name]())))]).history
    back = from_fhir([served(bundle(history, kind))]).history
    assert [{**wound, "id": ""} for wound in back.wounds] == [{**wound, "id": ""} for wound in history.wounds]


def _exact(value: Json) -> Json:
    from decimal import Decimal

    if isinstance(value, dict):
        return {key: _exact(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_exact(item) for item in value]
    return Decimal(repr(value)) if isinstance(value, float) else value


@pytest.mark.parametrize("seed", range(5))
def test_our_lists_of_the_client_keep_their_order(seed: int) -> None:
    allergies = [{"to": word} for word in ("latex", "iodine", "honey", "adhesive")]
    patient = {"born": "1948", "allergies": allergies, "conditions": ["gout", "type 2 diabetes", "asthma"]}
    made = bundle(History.of({"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}]}), "collection")
    entries = list(made["entry"])
    random.Random(seed).shuffle(entries)
    assert from_fhir([{**made, "entry": entries}]).history.patient == patient
