"""One trip of our own resources through a server: ids, versions and references change, the record does not."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import msgspec
import pytest

from woundfhir.demo import story
from woundfhir.fhir import to_fhir
from woundfhir.fhir.came import rename
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
