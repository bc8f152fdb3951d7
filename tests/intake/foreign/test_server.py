"""One trip of our own resources through a server: ids, versions and references change, the record does not."""

from __future__ import annotations

import random
from decimal import Decimal
from typing import Any

import msgspec
import pytest

from tests.intake.foreign.for_server import for_server
from tests.intake.foreign.inputs import CONTESTED, client
from tests.intake.foreign.test_addresses import INPUTS, VARIANTS
from tests.intake.strangers.test_strangers import loose
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.fhir.references import rename
from woundfhir.handover import bundle
from woundfhir.handover.compare import compare
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse
from woundfhir.record import History

encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode


@pytest.fixture(scope="module")
def ours() -> History:
    return parse(story(), "story").history


@pytest.fixture(scope="module")
def page(ours: History) -> dict[str, Any]:
    """What a server gives back: numbered ids, versions, times, absolute addresses."""
    sent = decode(encode(to_fhir(ours)))
    names = {f"{r['resourceType']}/{r['id']}": f"{r['resourceType']}/{n}" for n, r in enumerate(sent)}
    entries = []
    for number, resource in enumerate(sent):
        meta = {**resource["meta"], "versionId": "1", "lastUpdated": "2026-03-09T10:00:00Z"}
        made = {**rename(resource, names), "id": str(number), "meta": meta}
        url = f"http://server.example.org/fhir/{made['resourceType']}/{number}"
        entries.append({"fullUrl": url, "resource": made, "search": {"mode": "match"}})
    return {"resourceType": "Bundle", "type": "searchset", "total": len(entries), "entry": entries}


def test_the_record_is_the_same_and_nothing_is_a_loss(ours: History, page: dict[str, Any]) -> None:
    history, losses = from_fhir([page])
    assert {k: v for k, v in history.data.items() if k != "extra"} == ours.data
    assert not losses.items
    assert losses.understood == losses.values
    assert not list(compare(ours, history))


def test_the_servers_ids_stand_in_one_map_and_go_out_again(page: dict[str, Any]) -> None:
    history, _ = from_fhir([page])
    assert len(history.extra) == 1
    out = decode(encode(to_fhir(history)))
    came = {f"{e['resource']['resourceType']}/{e['resource']['id']}" for e in page["entry"]}
    assert {f"{r['resourceType']}/{r['id']}" for r in out} == came
    assert from_fhir(out)[0].data == history.data


def stored(history: History, chance: random.Random | None = None) -> dict[str, Any]:
    """What a server gives back of a transaction: ids of its own, references to them, in whatever order."""
    sent = decode(encode(bundle(history, "transaction", at="2026-03-09T10:00:00Z")))["entry"]
    names = {e["fullUrl"]: f"{e['resource']['resourceType']}/{n}" for n, e in enumerate(sent, 1000)}
    entries = []
    for entry in sent:
        made = {**rename(entry["resource"], names), "id": names[entry["fullUrl"]].partition("/")[2]}
        made["meta"] = {**made.get("meta", {}), "versionId": "1", "lastUpdated": "2026-03-09T10:00:00Z"}
        entries.append({"fullUrl": f"http://server.example.org/fhir/{names[entry['fullUrl']]}", "resource": made})
    if chance is not None:
        chance.shuffle(entries)
    return {"resourceType": "Bundle", "type": "searchset", "entry": entries}


@pytest.mark.parametrize("name", sorted(INPUTS))
def test_what_others_wrote_is_the_same_after_a_server_has_replaced_the_ids(name: str) -> None:
    """Nothing is sent that would mean something else there: a name that leads nowhere, a version, an address."""
    number, tried = sorted(INPUTS).index(name), []
    for variant in [v for n, v in enumerate(VARIANTS) if n % 4 == number % 4]:
        try:
            history, _ = from_fhir(decode(encode(VARIANTS[variant](INPUTS[name]()))))
        except InputError:
            continue
        if history.data not in tried and for_server(history):
            tried.append(history.data)
            for chance in (None, random.Random(name)):
                assert loose(from_fhir([stored(history, chance)])[0]) == loose(history), variant


def test_two_versions_that_contradict_are_not_sent() -> None:
    came = [client(identifier=[{"system": "urn:example:mrn", "value": "S-1"}]), *CONTESTED["values"][0][1:]]
    with pytest.raises(InputError, match="two versions of one Observation"):
        bundle(from_fhir(came)[0], "transaction")
