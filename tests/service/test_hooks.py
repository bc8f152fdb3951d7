"""CDS Hooks 2.0 (HL7/cds-hooks, tag v2.0.1; hooks patient-view and encounter-discharge of its library): discovery,
calls with a prefetch as a server's searches answer it, cards."""

from __future__ import annotations

import json
import re
import uuid
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from tests.server.bending import JUNK, SECRET, bent
from tests.service.conftest import Served
from woundfhir import InputError
from woundfhir.report.cards import SUMMARY
from woundfhir.server.fetching import TYPES
from woundfhir.service import describe, hooks, jobs
from woundfhir.service.setup import Setup

Json = Any
BASE = "https://hospital.example/fhir"
CLIENT = {"patient": {"resourceType": "Patient", "id": "77"}, "observation": None}


def schema(name: str) -> Draft202012Validator:
    """A schema of the OpenAPI document, which tells an integrator what comes."""
    whole = describe.openapi()
    return Draft202012Validator({**whole["components"]["schemas"][name], "components": whole["components"]})


def call(story: Path, hook: str = "patient-view", **changed: Json) -> Json:
    """A call with the demo's record, as a server holds it: its own ids, a searchset a type."""
    entries = json.loads((story / "story.fhir.json").read_bytes())["entry"]
    text = json.dumps([one["resource"] for one in entries])
    for one in entries:
        name = f"{one['resource']['resourceType']}/{one['resource']['id']}"
        text = text.replace(one["fullUrl"], "Patient/77" if name.startswith("Patient/") else name)
    resources = json.loads(text)
    for one in resources:
        if one["resourceType"] == "Patient":
            one["id"] = "77"
        one["meta"] = {**one.get("meta", {}), "versionId": "1", "lastUpdated": "2026-03-01T10:00:00Z"}
    prefetch: dict[str, Json] = {"patient": next(one for one in resources if one["resourceType"] == "Patient")}
    for kind in TYPES:
        found = [
            {"fullUrl": f"{BASE}/{kind}/{one['id']}", "resource": one}
            for one in resources
            if one["resourceType"] == kind
        ]
        bundle = {"resourceType": "Bundle", "type": "searchset", "total": len(found), "entry": found}
        prefetch[hooks.key_of(kind)] = bundle if found else None
    return {
        "hook": hook,
        "hookInstance": str(uuid.uuid5(uuid.NAMESPACE_DNS, hook)),
        "fhirServer": BASE,
        "context": {"userId": "Practitioner/1", "patientId": "77", "encounterId": "9"},
        "prefetch": prefetch,
        **changed,
    }


def cards(served: Served, asked: Json) -> list[Json]:
    answer = served.client.post(f"/cds-services/{asked['hook']}", json=asked)
    assert answer.status_code == 200, answer.text
    assert list(schema("Cards").iter_errors(answer.json())) == []
    found: list[Json] = answer.json()["cards"]
    for one in found:
        assert len(one["summary"]) < 140 and one["source"]["label"]
        assert "local policy and the licensed practitioner decide" in one["detail"]
        assert "" not in one.values() and None not in one.values()
    assert len({one["uuid"] for one in found}) == len(found)
    return found


def test_discovery_offers_two_hooks(served: Served) -> None:
    found = served.client.get("/cds-services").json()
    assert list(schema("Services").iter_errors(found)) == []
    assert [one["hook"] for one in found["services"]] == ["patient-view", "encounter-discharge"]
    for one in found["services"]:
        assert one["prefetch"]["patient"] == "Patient/{{context.patientId}}"
        for key, template in one["prefetch"].items():
            # read, or a search by reference and _count: what every client must support
            assert re.fullmatch(
                r"Patient/\{\{context\.patientId\}\}|[A-Z]\w+\?patient=\{\{context\.patientId\}\}&_count=\d+", template
            ), key


def test_safety_prompts_and_gaps_are_cards(served: Served, story: Path) -> None:
    found = cards(served, call(story))
    assert found[0]["summary"].startswith("Safety, W2, V5: Packing went in at the last change")
    assert found[0]["indicator"] == "warning" and "PK03" in found[0]["detail"]
    assert [one["indicator"] for one in found if "to add" in one["summary"]] in ([], ["info"])
    assert cards(served, call(story)) == found  # the same call, the same cards


def test_a_discharge_is_judged_as_a_hand_over(served: Served, story: Path) -> None:
    found = cards(served, call(story, "encounter-discharge"))
    gaps = next(one for one in found if "to add" in one["summary"])
    assert gaps["indicator"] == "warning" and "transfer" in gaps["source"]["label"]
    assert "Cleansing" in gaps["detail"]  # of the note with gaps on purpose, which is not the newest
    assert any(one["summary"].startswith("Safety") for one in found)


def test_a_client_without_a_wound_has_no_card(served: Served, story: Path) -> None:
    asked = call(story)
    asked["prefetch"] = {**dict.fromkeys(asked["prefetch"]), "patient": asked["prefetch"]["patient"]}
    assert cards(served, asked) == []


def test_what_did_not_come_is_named(served: Served, story: Path) -> None:
    whole = call(story)
    assert not any("not everything" in one["summary"] for one in cards(served, whole))
    asked = call(story)
    del asked["prefetch"]["goal"]
    asked["prefetch"]["media"] = {"resourceType": "OperationOutcome", "issue": [{"severity": "error", "code": "x"}]}
    asked["prefetch"]["observation"]["link"] = [{"relation": "next", "url": f"{BASE}?page=2"}]
    last = cards(served, asked)[-1]
    assert "not everything came" in last["summary"] and last["indicator"] == "warning"
    assert all(kind in last["detail"] for kind in ("Goal", "Media", "Observation"))
    for key in ("patient", "condition", "observation"):
        asked = call(story)
        del asked["prefetch"][key]
        answer = served.client.post("/cds-services/patient-view", json=asked)
        assert answer.status_code == 412 and f"prefetch.{key}" in answer.text
    assert served.client.post("/cds-services/patient-view", json=call(story, prefetch=None)).status_code == 412


def test_another_client_is_refused(served: Served, story: Path) -> None:
    other = call(story, context={"userId": "Practitioner/1", "patientId": "78"})
    answer = served.client.post("/cds-services/patient-view", json=other)
    assert answer.status_code == 400 and "77" not in answer.text
    joined = call(story)
    stranger = {"resource": {"resourceType": "Observation", "id": "x", "subject": {"reference": f"{BASE}/Patient/78"}}}
    joined["prefetch"]["observation"]["entry"].append(stranger)
    answer = served.client.post("/cds-services/patient-view", json=joined)
    assert answer.status_code == 400 and "another client" in answer.text and "78" not in answer.text
    second = call(story)
    second["prefetch"]["condition"]["entry"].append({"resource": {"resourceType": "Patient", "id": "78"}})
    assert served.client.post("/cds-services/patient-view", json=second).status_code == 400


@pytest.mark.parametrize(
    "wrong",
    [
        {"hook": "order-sign"},
        {"hookInstance": "1"},
        {"hookInstance": None},
        {"context": {}},
        {"context": []},
        {"context": {"userId": "Practitioner/1", "patientId": 77}},
        {"prefetch": []},
        {"fhirServer": 7},
        {"prefetch": {"patient": "77", "condition": None, "observation": None}},
        {"prefetch": {**CLIENT, "condition": []}},
        {"prefetch": {**CLIENT, "condition": {"resourceType": "Bundle", "entry": {}}}},
        {"prefetch": {**CLIENT, "condition": {"resourceType": "Bundle", "entry": [1]}}},
    ],
)
def test_what_is_no_call_is_refused(wrong: Json, served: Served, story: Path) -> None:
    answer = served.client.post("/cds-services/patient-view", json=call(story, **wrong))
    assert answer.status_code == 400 and answer.json()["resourceType"] == "OperationOutcome"


def test_a_call_is_json(served: Served) -> None:
    answer = served.client.post("/cds-services/patient-view", content=b"a=1", headers={"Content-Type": "text/csv"})
    assert answer.status_code == 415
    assert served.client.post("/cds-services/order-sign", json={}).status_code == 404


def test_marks_of_a_text_are_shown_as_they_are() -> None:
    from woundfhir.report.cards import _plain, cut

    assert _plain("<b> & *x* [y](z)") == r"&lt;b\> &amp; \*x\* \[y\](z)"
    assert len(cut("x" * 400)) == SUMMARY and cut("a " * 200).endswith("…")


def _short(story: Path) -> Json:
    asked = call(story)
    for bundle in asked["prefetch"].values():
        if bundle is not None and "entry" in bundle:
            del bundle["entry"][5:]
    return asked


@settings(max_examples=40)
@given(st.lists(st.tuples(st.integers(0, 5000), st.sampled_from(JUNK), st.booleans()), min_size=1, max_size=4))
def test_no_call_makes_a_fault_of_ours(story: Path, changes: list[tuple[int, Json, bool]]) -> None:
    asked = _short(story)
    for place, junk, drop in changes:
        asked = bent(asked, place, junk, drop)
    try:
        options = {"hook": "patient-view", "today": "2026-04-20"}
        reply = jobs.run("hook", options, json.dumps(asked).encode(), Setup())
    except InputError as error:
        assert SECRET not in str(error)
    else:
        assert list(schema("Cards").iter_errors(json.loads(reply.content))) == []
