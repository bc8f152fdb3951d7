"""A second server takes it: sekmet-fhir (PyPI), over SQLite. The same trials as on HAPI.

An outside check: that server is written by others, and follows HL7 FHIR R4. It keeps decimals as binary numbers, so
that 3.20 comes back as 3.2: ``fetch --sent`` names that, and everything else is as it was sent. Its CapabilityStatement
leaves out four types that it stores (``UNNAMED``).
"""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.servers.sekmet import UNNAMED, sekmet
from tests.servers.trials import SYSTEM, amended, client, provided, put, there
from woundfhir.cli import run
from woundfhir.errors import InputError
from woundfhir.record import History
from woundfhir.server.comparing import held_against
from woundfhir.server.connection import Connection, base_of
from woundfhir.server.export import clients, export
from woundfhir.server.fetching import everything, taken
from woundfhir.server.receipt import Receipt, read
from woundfhir.server.sending import send

Json = Any
pytestmark = pytest.mark.server("sekmet")


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with sekmet(tmp_path_factory.mktemp("sekmet")) as (url, _):
        yield url


def who(history: History) -> str:
    return f"{SYSTEM}|{history.patient['identifiers'][0]['value']}"


def plain(data: Json) -> Json:
    """A record with its numbers as this server keeps them: 3.20 as 3.2."""
    if isinstance(data, dict):
        return {key: plain(value) for key, value in data.items()}
    if isinstance(data, list):
        return [plain(one) for one in data]
    number, _, unit = str(data).partition(" ")
    whole, dot, digits = number.partition(".")
    if not (dot and unit and whole.isdigit() and digits.isdigit()):
        return data
    return f"{float(number)} {unit}"


def fetched(base: str, history: History, **more: Any) -> tuple[Json, list[str]]:
    """The record that comes back, and what the server has otherwise than it was sent."""
    server = Connection(base_of(base))
    came = everything(server, who(history), **more)
    late, lines = held_against(history, came, server)
    found = taken([*came, *late], server.base)
    assert not found.losses and not found.history.extra
    return found.history.data, lines


def test_what_it_cannot_do_is_reported_before_anything_is_sent(base: str) -> None:
    history = client("skin-tear")
    with pytest.raises(InputError, match="it does not store BodyStructure; it does not store CareTeam") as found:
        put(base, history)
    assert "--also TYPE" in str(found.value) and not there(base, f"Patient?identifier={who(history)}")
    put(base, history, without=UNNAMED)
    assert not there(base, "Goal?_count=1")


def test_twice_amended_removed_and_fetched_again(base: str, tmp_path: Path) -> None:
    receipt, history = tmp_path / "receipt.json", client()
    assert set(put(base, history, receipt, also=UNNAMED).counts) == {"created"}
    data, lines = fetched(base, history, count=20)
    assert data == plain(history.data)
    assert lines == [
        "Observation V6/W1/size: the server has it otherwise than it was sent: component[0].valueQuantity.value"
    ]
    assert set(put(base, history, receipt, also=UNNAMED).counts) == {"unchanged"}

    def change(data: Json) -> None:
        data["visits"][0]["wounds"][0]["assessment"]["length"] = "6.2 cm"
        data["wounds"][0].update(status="closed")
        data["patient"]["allergies"].insert(0, {"to": "honey", "reaction": "burning"})

    new = amended(history, change)
    sent = put(base, new, receipt, also=UNNAMED)
    assert sent.counts["created"] == 1 and "updated to version 2" in {words for _, words in sent.outcomes}
    assert fetched(base, new)[0] == plain(new.data)
    patient = there(base, f"Patient?identifier={who(history)}")[0]["id"]
    allergies = [one["code"].get("text") for one in there(base, f"AllergyIntolerance?patient={patient}")]
    assert sorted(allergies) == sorted(one["to"] for one in new.patient["allergies"])

    fewer = amended(new, lambda data: data["patient"]["allergies"].pop(0))
    assert put(base, fewer, receipt, also=UNNAMED).counts["withdrawn"] == 1
    gone = [one for one in there(base, f"AllergyIntolerance?patient={patient}") if one["code"].get("text") == "honey"]
    assert gone[0]["verificationStatus"]["coding"][0]["code"] == "entered-in-error"
    assert fetched(base, fewer)[0] == plain(fewer.data)


def test_two_clients_and_parts_of_one_visit(base: str) -> None:
    one, other = client("skin-tear"), client("skin-tear")
    put(base, one, chunk=1, also=UNNAMED)
    put(base, other, also=UNNAMED)
    assert fetched(base, one)[0] == plain(one.data) and fetched(base, other)[0] == plain(other.data)


def test_a_document_that_is_provided(base: str) -> None:
    """This server stores all of it, and leaves the Bundle's address in the attachment (R4, http, renames a url too)."""
    assert provided(base, client("skin-tear")).startswith("urn:uuid:")


def test_pages_of_20(base: str) -> None:
    """This server answers ``$everything`` whole; its searches have pages."""
    from woundfhir.server.pages import resources

    history = client()
    put(base, history, also=UNNAMED)
    server = Connection(base_of(base))
    patient = there(base, f"Patient?identifier={who(history)}")[0]["id"]
    answer = server.search("Observation", patient=f"Patient/{patient}", _count="20")
    assert len(answer.json("a page")["entry"]) == 20
    found = [one["id"] for one in resources(server, answer, "the search for Observation")]
    assert len(found) == len(set(found)) > 20


def test_killed_half_way_and_sent_again(tmp_path: Path) -> None:
    history, receipt = client("skin-tear"), tmp_path / "receipt.json"
    with sekmet(tmp_path / "data") as (url, process):

        def kill(line: str) -> None:
            if line.startswith("Part 2"):
                process.kill()
                process.wait()

        server = Connection(base_of(url), say=kill, wait=lambda seconds: None)
        with pytest.raises(InputError, match=r"no connection|the connection broke"):
            send(history, server, read(receipt, server.base), chunk=20, also=UNNAMED)
        assert read(receipt, server.base).stored
    with sekmet(tmp_path / "data") as (url, _):
        sent = put(url, history, also=UNNAMED)  # at another port, and so another server: without its receipt
        assert sent.counts["unchanged"] and sent.counts["created"]
        assert fetched(url, history)[0] == plain(history.data)
        keys = [json.dumps(one.get("identifier")) for one in there(url, "Condition?_count=200")]
        assert len(keys) == len(set(keys))


def test_an_export_of_two_clients(base: str) -> None:
    """``$export`` of HL7's Bulk Data, served by that server: each client with what it lists of its own."""
    some = [client("skin-tear"), client("skin-tear")]
    for history in some:
        put(base, history, without=UNNAMED)
    server = Connection(base_of(base), wait=threading.Event().wait)
    found = clients(server, export(server, "Patient"), [who(one) for one in some])
    alone = [back_of(base, one) for one in some]
    assert [one.history.data for one in found] == alone


def back_of(base: str, history: History) -> Json:
    return taken(everything(Connection(base_of(base)), who(history)), base).history.data


def test_the_command_line(base: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """``send``, ``send`` again and ``fetch --sent``: three commands, and the record is back."""
    history = client("skin-tear")
    source, receipt, out = tmp_path / "record.json", tmp_path / "receipt.json", tmp_path / "back.yaml"
    source.write_text(json.dumps(history.data), "utf-8")
    also = [word for kind in UNNAMED for word in ("--also", kind)]
    sending = ["send", str(source), "--to", base, "--receipt", str(receipt), *also]
    for words in ("created", "unchanged"):
        assert run(sending) == 0 and f"61 {words}" in capsys.readouterr().err
    assert run(["fetch", base, "--patient", who(history), "--sent", str(source), "-o", str(out)]) == 1
    err = capsys.readouterr().err
    assert "The server's own, left out of the record: id (" in err
    assert "component[0].valueQuantity.value" in err and "3.2" not in err
    assert History.of(yaml.safe_load(out.read_text("utf-8"))).data == plain(history.data)


def test_without_a_receipt_only_what_it_changed_itself_is_sent_again(base: str) -> None:
    history = client("skin-tear")
    put(base, history, also=UNNAMED)
    again = send(history, Connection(base_of(base)), Receipt(base), also=UNNAMED)
    assert again.counts == {"unchanged": 60, "updated": 1}
    patient = there(base, f"Patient?identifier={who(history)}")[0]["id"]
    keys = [json.dumps(one["identifier"]) for one in there(base, f"Observation?patient={patient}&_count=200")]
    assert len(keys) == len(set(keys))
