"""The order of the entries of a Bundle says nothing (HL7 FHIR R4, Bundle: only documents and messages begin with one).

Shuffled entries give the same record, to the order of its lists; so do the Bundles themselves in another order.
"""

from __future__ import annotations

import copy
import itertools
import random
from typing import Any

import pytest

from tests.intake.foreign.inputs import client, cm, obs, visit, wound
from tests.intake.foreign.test_addresses import INPUTS
from tests.intake.foreign.test_laws import decode, encode, said
from tests.paths import ROOT
from woundfhir import read
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.intake.resources import from_fhir, from_fhir_many
from woundfhir.record.canonical import as_json

Json = Any


def shuffled(came: list[Json], seed: str) -> list[Json]:
    made, chance = copy.deepcopy(came), random.Random(seed)
    for one in made:
        if one["resourceType"] == "Bundle":
            chance.shuffle(one["entry"])
    chance.shuffle(made)
    return made


def outcome(came: list[Json]) -> Json:
    try:
        history, losses = from_fhir(decode(encode(came)))
    except InputError as error:
        return str(error)
    return said(history), dict(losses.counts)


@pytest.mark.parametrize("name", sorted(INPUTS))
def test_the_order_of_entries_says_nothing(name: str) -> None:
    came = INPUTS[name]()
    first = outcome(came)
    for seed in "abc":
        assert outcome(shuffled(came, name + seed)) == first


@pytest.mark.parametrize("order", list(itertools.permutations(range(4))))
def test_one_tunnel_in_two_observations_is_one_in_any_order(order: tuple[int, ...]) -> None:
    """Length and hour of one tunnel, each as an Observation of its own (LOINC 72296-7, 72297-5)."""
    there = [{"reference": "Condition/w"}]
    deep = obs("a", "72296-7", valueQuantity=cm(2), focus=there)
    hour = obs("b", "72297-5", valueCodeableConcept={"text": "3 o'clock"}, focus=there)
    given = [client(), wound("w"), deep, hour]
    history, _ = from_fhir([given[number] for number in order])
    assert history.visits[0]["wounds"][0]["assessment"]["tunnels"] == [{"clock": "3", "depth": "2 cm"}]
    assert from_fhir(decode(encode(to_fhir(history))))[0].data == history.data


def test_wounds_and_visits_stand_by_their_dates_and_then_by_their_names() -> None:
    late = wound("w3", onsetDateTime="2026-02")
    seen = [visit(f"e{day}", period={"start": f"2026-03-{day:02}"}) for day in (10, 9, 2)]
    history, _ = from_fhir([client(), wound("w10"), wound("w2"), late, *seen])
    assert [one["id"] for one in history.wounds] == ["w3", "w2", "w10"]
    assert [one["id"] for one in history.visits] == ["e2", "e9", "e10"]


def test_what_has_no_name_of_its_own_is_named_by_its_content_in_every_run() -> None:
    """Two resources of one id, each with a client inside: no number of this process stands in the record."""

    def came() -> list[dict[str, Any]]:
        person = {"resourceType": "Patient", "id": "p", "birthDate": "1944-11-02"}
        parts = (obs("l", "39126-8", of={"reference": "#p"}, contained=[dict(person)]) for _ in range(2))
        return [{**one, "valueQuantity": cm(3 + number)} for number, one in enumerate(parts)]

    first, again = came(), came()
    once, twice = from_fhir_many(first), from_fhir_many(again)
    assert [part.history for part in once] == [part.history for part in twice]
    assert not any(str(id(one)) in as_json(part.history.data) for part in once for one in first)


@pytest.mark.parametrize("story", ["leg-and-sacrum", "skin-tear"])
@pytest.mark.parametrize("order", ["reversed", "a", "b"])
def test_our_own_entries_in_another_order_are_the_same_record(story: str, order: str) -> None:
    """HL7 FHIR R4, search: a server answers in the order that it likes. Visits and wounds stand as they were."""
    history = read(ROOT / "examples" / story / "story.yaml").history
    came = to_fhir(history)
    turned = came[::-1] if order == "reversed" else random.Random(order).sample(came, len(came))
    assert from_fhir(turned)[0].data == history.data
