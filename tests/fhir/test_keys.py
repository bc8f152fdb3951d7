"""Business keys: what a server finds a resource by. Laws of our own; conditional requests are HL7 FHIR R4, http."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import records
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.fhir.transactions import chunks, to_send, transaction
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse
from woundfhir.record import History

Json = Any
CARD = {"system": "urn:example:card", "value": "0417"}
FOAM, WIDE, GAUZE = (
    {"item": "foam dressing", "size": "10x10"},
    {"item": "foam dressing", "size": "15x15"},
    {"item": "gauze"},
)


def record(**patient: Json) -> History:
    return History.of({"woundfhir": 1, "patient": {"identifiers": [CARD], **patient}})


def entry(**answers: Json) -> History:
    wounds = [{"wound": "W1", **answers}]
    visit = {"id": "V1", "at": "2026-03-02T10:05-05:00", "wounds": wounds}
    data = {"woundfhir": 1, "patient": {"identifiers": [CARD]}, "wounds": [{"id": "W1"}], "visits": [visit]}
    return History.of(data)


def keys(history: History) -> list[str]:
    return [key.words for _, key in to_send(history)]


def said(history: History) -> dict[str, str]:
    """Key -> what is said under it, without the position."""
    made = {}
    for resource, key in to_send(history):
        rest = {name: value for name, value in resource.items() if name not in ("id", "identifier")}
        made[key.words] = json.dumps(rest, default=str, sort_keys=True)
    return made


@pytest.mark.parametrize(
    "make", [lambda items: record(allergies=items), lambda items: record(conditions=[one["to"] for one in items])]
)
def test_an_insertion_and_another_order_move_no_key(make: Any) -> None:
    old = [{"to": "adhesive tape"}, {"to": "latex", "reaction": "weals"}]
    before = said(make(old))
    for new in ([{"to": "honey"}, *old], [old[1], {"to": "honey"}, old[0]], old[::-1], [*old, {"to": "honey"}]):
        after = said(make(new))
        assert {key: after[key] for key in before} == before
        assert len(after) == len(before) + (len(new) > len(old))


@pytest.mark.parametrize("new", [[GAUZE, FOAM, WIDE], [WIDE, FOAM], [FOAM, GAUZE, WIDE]])
def test_supplies_keep_their_keys(new: list[Json]) -> None:
    before = {key for key in keys(entry(supplies=[FOAM, WIDE])) if key.startswith("SupplyDelivery")}
    assert before <= set(keys(entry(supplies=new))) and len(before) == 2


def test_two_equal_items_have_two_keys() -> None:
    once, twice = keys(entry(supplies=[GAUZE])), keys(entry(supplies=[GAUZE, GAUZE]))
    assert len(twice) == len(set(twice)) == len(once) + 1
    assert len(set(keys(record(allergies=[{"to": "honey"}, {"to": "honey"}, {"to": "honey", "note": "twice"}])))) == 4


def test_an_amendment_keeps_the_key() -> None:
    plain, noted = record(allergies=[{"to": "honey"}]), record(allergies=[{"to": "honey", "reaction": "itch"}])
    assert keys(plain) == keys(noted) and said(plain) != said(noted)
    few, many = ([{**GAUZE, "quantity": n}] for n in ("1", "4"))
    assert keys(entry(supplies=few)) == keys(entry(supplies=many))


def test_no_key_of_a_story_names_a_position() -> None:
    for key in keys(parse(story(), "story").history):
        assert not key.rsplit("/", 1)[-1].isdigit(), key


@given(records(), st.randoms(use_true_random=False))
def test_keys_are_unique_and_what_was_sent_reads_again_the_same(made: Json, chance: random.Random) -> None:
    history = History.of({**made, "patient": {**made["patient"], "identifiers": [CARD]}})
    named = keys(history)
    assert len(named) == len(set(named))
    sent = transaction(history)
    chance.shuffle(sent["entry"])
    back, _ = from_fhir([sent])
    assert sorted(keys(back)) == sorted(named)


def test_old_keys_by_position_are_read_still() -> None:
    history = record(allergies=[{"to": "adhesive tape"}, {"to": "honey"}])
    sent = json.loads(json.dumps(transaction(history)))
    for number, one in enumerate(e for e in sent["entry"] if e["resource"]["resourceType"] == "AllergyIntolerance"):
        system = one["resource"]["identifier"][0]["system"]
        one["resource"]["identifier"] = [{"system": system, "value": f"allergies/{number + 1}"}]
    back, losses = from_fhir([sent])
    assert back.data == history.data and not losses.items


@pytest.mark.parametrize(
    "patient", [{}, {"identifiers": [{"value": "0417"}]}, {"identifiers": [{**CARD, "value": "N/A"}]}]
)
def test_a_client_without_an_identifier_is_refused(patient: Json) -> None:
    history = History.of({"woundfhir": 1, "patient": {"born": "1948-03", **patient}})
    with pytest.raises(InputError, match=r"patient.identifiers.*Write the identifier with its system") as error:
        transaction(history)
    assert "1948" not in str(error.value) and "0417" not in str(error.value)


def test_what_others_wrote_is_never_written_over_and_never_doubled() -> None:
    """A resource of others without an identifier gets a key that follows from it, and reads again as it came."""
    client = {"resourceType": "Patient", "id": "p", "identifier": [CARD]}
    team = {
        "resourceType": "Flag",
        "id": "f",
        "status": "active",
        "code": {"text": "falls"},
        "subject": {"reference": "Patient/p"},
    }
    history, _ = from_fhir([client, team])
    sent = transaction(history)
    flag = next(e for e in sent["entry"] if e["resource"]["resourceType"] == "Flag")
    assert flag["request"]["ifNoneExist"].startswith("identifier=")
    back, _ = from_fhir([json.loads(json.dumps(sent, default=str))])
    assert "key" not in json.dumps([item.get("value") for item in back.extra if "Flag" in item["from"]])


@pytest.mark.parametrize("size", [1, 60, 200, 10_000])
def test_parts_keep_a_visit_whole_and_every_reference_leads_to_something(size: int) -> None:
    entries = transaction(parse(story(), "story").history)["entry"]
    parts = chunks(entries, size)
    assert sum(map(len, parts)) == len(entries)
    earlier: set[str] = set()
    for part in parts:
        here = {one["fullUrl"] for one in part}
        for reference in _references([one["resource"] for one in part]):
            assert reference in here or reference in earlier, reference
        earlier |= {_known(one["request"]) for one in part}
    where = {one["fullUrl"]: n for n, part in enumerate(parts) for one in part}
    for one in entries:
        encounter = one["resource"].get("encounter")
        if isinstance(encounter, dict):
            assert where[one["fullUrl"]] == where[encounter["reference"]]


def _known(request: Json) -> str:
    return f"{request['url']}?{request['ifNoneExist']}" if "ifNoneExist" in request else request["url"]


def _references(value: Json) -> set[str]:
    if isinstance(value, dict):
        own = {value["reference"]} if isinstance(value.get("reference"), str) else set()
        return own.union(*map(_references, value.values()))
    return set().union(*map(_references, value)) if isinstance(value, list) else set()
