"""A real server takes it: HAPI FHIR's JPA server 8.8.0, built from Maven artifacts (``hapi/README.md``).

An outside check: that server is written by others, and follows HL7 FHIR R4.
"""

from __future__ import annotations

import json
import re
import time
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.paths import ROOT
from tests.servers.lane import hapi, troubled
from tests.servers.trials import SYSTEM, amended, back, client, provided, put, there, total
from woundfhir.errors import InputError
from woundfhir.fhir.transactions import parts
from woundfhir.handover import bundle
from woundfhir.jose.key_files import read_key
from woundfhir.jose.keys import Key
from woundfhir.jose.signature import seal, verify
from woundfhir.jose.verification import Answer
from woundfhir.r4 import jsonio
from woundfhir.record import History
from woundfhir.server.connection import JSON, Connection, base_of
from woundfhir.server.documents import fetch_documents, send_document
from woundfhir.server.export import clients, export
from woundfhir.server.fetching import fetch
from woundfhir.server.receipt import Receipt, read
from woundfhir.server.sending import send

Json = Any
pytestmark = pytest.mark.server


def test_an_export_of_all_clients_and_of_a_group(base: str) -> None:
    """HL7's Bulk Data ``$export``, as that server serves it: each client comes back as they were sent.

    First of all tests here: later there is much more on the server to export.
    """
    some = [client("skin-tear"), client("skin-tear")]
    whom = [f"{SYSTEM}|{one.patient['identifiers'][0]['value']}" for one in some]
    for history in some:
        put(base, history)
    server = Connection(base_of(base), wait=lambda seconds: time.sleep(min(seconds, 1)))
    exported = export(server, "Patient")
    found = clients(server, exported, whom)
    assert [one.history.data for one in found] == [one.data for one in some] and not exported.notices
    place = there(base, f"Patient?identifier={whom[1]}")[0]["id"]
    members = [{"entity": {"reference": f"Patient/{place}"}}]
    group = {"resourceType": "Group", "id": "ward-3", "type": "person", "actual": True, "member": members}
    assert httpx.put(f"{base}/Group/ward-3", json=group).status_code in (200, 201)
    (only,) = clients(server, export(server, "Group/ward-3"))
    assert only.history.data == some[1].data
    with pytest.raises(InputError, match="it answered 4"):
        export(server, "Group/nobody")


def test_twice_amended_removed_and_fetched_again(base: str, tmp_path: Path) -> None:
    """The whole story: 661 resources, and after each step the server has exactly the record."""
    receipt, history = tmp_path / "receipt.json", client()
    assert set(put(base, history, receipt).counts) == {"created"}
    assert back(base, history, count=20) == history.data
    counts = {kind: total(base, kind) for kind in ("Observation", "Condition", "AllergyIntolerance", "Patient")}
    assert set(put(base, history, receipt).counts) == {"unchanged"}
    assert {kind: total(base, kind) for kind in counts} == counts

    def change(data: Json) -> None:
        data["visits"][0]["wounds"][0]["assessment"]["length"] = "6.2 cm"
        data["wounds"][0].update(status="closed")
        data["patient"]["allergies"].insert(0, {"to": "honey", "reaction": "burning"})

    new = amended(history, change)
    sent = put(base, new, receipt)
    assert sent.counts["created"] == 1 and "updated to version 2" in {words for _, words in sent.outcomes}
    identified = f"{SYSTEM}|{history.patient['identifiers'][0]['value']}"
    patient = there(base, f"Patient?identifier={identified}")[0]["id"]
    allergies = [one["code"].get("text") for one in there(base, f"AllergyIntolerance?patient={patient}")]
    assert sorted(allergies) == sorted(one["to"] for one in new.patient["allergies"])
    wounds = there(base, f"Condition?patient={patient}&category=http://snomed.info/sct|416462003")
    states = [one["clinicalStatus"]["coding"][0]["code"] for one in wounds]
    assert sorted(states) != ["active"] * len(states)
    sizes = there(base, f"Observation?patient={patient}&component-code=http://loinc.org|39126-8&_count=50")
    assert "6.2" in json.dumps(sizes)
    assert back(base, new) == new.data

    def remove(data: Json) -> None:
        data["patient"]["allergies"].pop(0)
        del data["visits"][0]["wounds"][0]["assessment"]["tissue"]

    fewer = amended(new, remove)
    assert put(base, fewer, receipt).counts["withdrawn"] > 1
    gone = [one for one in there(base, f"AllergyIntolerance?patient={patient}") if one["code"].get("text") == "honey"]
    assert gone[0]["verificationStatus"]["coding"][0]["code"] == "entered-in-error" and "clinicalStatus" not in gone[0]
    assert back(base, fewer) == fewer.data
    assert set(put(base, fewer, receipt).counts) == {"unchanged"}


def test_two_clients_and_parts_of_one_visit(base: str) -> None:
    one, other = client("skin-tear"), client("skin-tear")
    put(base, one, chunk=1)
    put(base, other)
    assert back(base, one) == one.data and back(base, other) == other.data


def test_a_transaction_that_woundfhir_did_not_send(base: str) -> None:
    """The Bundle of ``bundle --as transaction``, posted by another client of HTTP: twice, then amended."""
    history = client("skin-tear")

    def post(made: History) -> set[str]:
        content = jsonio.encode(bundle(made, "transaction"))
        answer = httpx.post(base, content=content, headers={"Content-Type": "application/fhir+json"}, timeout=60)
        assert answer.status_code == 200, answer.text
        return {one["response"]["status"].split(" ")[0] for one in answer.json()["entry"]}

    assert post(history) == {"201"}
    assert post(history) == {"200"}
    assert back(base, history) == history.data
    new = amended(history, lambda data: data["patient"].update(allergies=[{"to": "honey"}]))
    assert post(new) == {"200", "201"}


def test_parts_that_another_client_sends(base: str) -> None:
    """The files of ``bundle --as transaction --chunk``: what a later part names of an earlier one is found there."""
    history = client("skin-tear")
    for part in parts(bundle(history, "transaction"), 20):
        answer = httpx.post(base, content=jsonio.encode(part), headers={"Content-Type": JSON}, timeout=60)
        assert answer.status_code == 200, answer.text
    assert back(base, history) == history.data


def test_a_document_that_is_provided(base: str) -> None:
    assert "Binary/" in provided(base, client("skin-tear"))


def test_what_a_hospital_has_of_the_client_stays(base: str) -> None:
    history = client("skin-tear")
    theirs = {"resourceType": "Patient", "identifier": history.patient["identifiers"], "name": [{"family": "Kept"}]}
    made = httpx.post(f"{base}/Patient", json=theirs).json()
    put(base, history)
    assert httpx.get(f"{base}/Patient/{made['id']}").json()["name"] == [{"family": "Kept"}]


def test_somebody_changed_it_meanwhile(base: str, tmp_path: Path) -> None:
    receipt, history = tmp_path / "receipt.json", client("skin-tear")
    put(base, history, receipt)
    place = next(place for words, (place, _) in read(receipt, base).stored.items() if words.endswith("|contact"))
    team = httpx.get(f"{base}/{place}").json()
    httpx.put(f"{base}/{place}", json={**team, "name": "changed by the ward"})
    sent = put(base, history, receipt)
    assert [words for _, words in sent.outcomes if words.startswith("refused: somebody changed it")]
    assert httpx.get(f"{base}/{place}").json()["name"] == "changed by the ward"


def test_a_signed_document_still_verifies_after_the_trip(base: str) -> None:
    history = client("skin-tear")
    key = _key()
    sealed = seal(bundle(history, "document"), key, when="2026-05-12T10:00:00-04:00", who={"display": "invented"})
    content = jsonio.encode_readable(sealed)
    server = Connection(base_of(base))
    assert send_document(server, content)[1] == "created"
    assert send_document(server, content)[1] == "unchanged"
    who = f"{SYSTEM}|{history.patient['identifiers'][0]['value']}"
    (found,) = fetch_documents(server, who).values()
    assert found == content
    assert verify(jsonio.decode(found), key).answer is Answer.OK


def _key() -> Key:
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    pem = ec.generate_private_key(ec.SECP384R1()).private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    return read_key(pem)


def test_the_usual_searches_find_it(base: str) -> None:
    """Each search of ``examples/how-to-find-it.md``, as it stands there, finds something."""
    history = amended(client(), lambda data: data["visits"][-1]["wounds"][0]["assessment"].update(area="12.5 cm2"))
    put(base, history)
    who = f"{SYSTEM}|{history.patient['identifiers'][0]['value']}"
    patient = there(base, f"Patient?identifier={who}")[0]["id"]
    listed = there(base, f"Condition?patient={patient}&category=problem-list-item")
    wounds = [one for one in listed if "416462003" in json.dumps(one["category"])]
    assert len(wounds) == len(history.wounds)
    lines = (ROOT / "examples" / "how-to-find-it.md").read_text("utf-8").splitlines()
    searches = [match[1].replace("\\|", "|") for line in lines if (match := re.match(r"\| .* \| `(.*)` \|$", line))]
    assert len(searches) > 10
    for search in searches:
        words = search.replace("SYSTEM|VALUE", who).replace("patient=P", f"patient={patient}")
        words = words.replace("Patient/P", f"Patient/{patient}")
        found = [there(base, words.replace("Condition/W", f"Condition/{wound['id']}")) for wound in wounds]
        assert any(found), search


@pytest.mark.parametrize(
    "switch", [{"FAIL_EVERY": "3", "RETRY_AFTER": "1", "TOKEN": "lane-token"}, {"LOSE_EVERY": "3"}]
)
def test_a_server_with_troubles(base: str, switch: dict[str, str]) -> None:
    history = client("skin-tear")
    with troubled(base, **switch):
        server = Connection(base_of(base), wait=lambda seconds: None)
        if "TOKEN" in switch:
            with pytest.raises(InputError, match="401"):
                send(history, server, Receipt(server.base))
            server.authorization = lambda renew: "Bearer lane-token"
        send(history, server, Receipt(server.base), chunk=20)
        again = send(history, server, Receipt(server.base), chunk=20)
        assert set(again.counts) == {"unchanged"}
        found = fetch(server, f"{SYSTEM}|{history.patient['identifiers'][0]['value']}")
        assert found.history.data == history.data


def test_killed_half_way_and_sent_again(tmp_path: Path) -> None:
    """The server is killed between two parts; another run of it, over the same folder, ends with the whole record."""
    history, folder, receipt = client("skin-tear"), str(tmp_path / "data"), tmp_path / "receipt.json"
    with hapi(folder) as (url, process):

        def kill(line: str) -> None:
            if line.startswith("Part 2"):
                process.kill()
                process.wait()

        server = Connection(base_of(url), say=kill, wait=lambda seconds: None)
        with pytest.raises(InputError, match=r"no connection|the connection broke"):
            send(history, server, read(receipt, server.base), chunk=20)
        assert read(receipt, server.base).stored
    with hapi(folder) as (url, _):
        sent = put(url, history)  # at another port, and so another server: without its receipt
        assert sent.counts["unchanged"] and sent.counts["created"]
        assert back(url, history) == history.data
        keys = [json.dumps([one.get("identifier")]) for one in there(url, "Condition?_count=200")]
        assert len(keys) == len(set(keys))
