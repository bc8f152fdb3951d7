"""The story sent and fetched again: to a server without faults, and to one that cannot do all of it.

Transactions and searches: HL7 FHIR R4, http.
"""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from tests.server.played import Played, encode
from tests.server.story import Json, amended, connection, history, of, played, put, who
from woundfhir.cli import run
from woundfhir.errors import InputError
from woundfhir.record import History
from woundfhir.server.fetching import fetch
from woundfhir.server.receipt import read

__all__ = ["history", "played"]


def test_sent_twice_nothing_is_new(played: Played, history: History) -> None:
    first = put(played, history)
    before = copy.deepcopy(played.resources)
    again = put(played, history)
    assert set(first.counts) == {"created"} and set(again.counts) == {"unchanged"}
    assert played.resources == before and len(before) == first.counts["created"]


@pytest.mark.parametrize("page", [20, 1000])
@pytest.mark.parametrize("everything", [True, False])
def test_what_was_sent_is_fetched_again(played: Played, history: History, page: int, everything: bool) -> None:
    played.page, played.everything = page, everything
    put(played, history)
    found = fetch(connection(played), who(history))
    assert found.history.data == history.data
    assert not found.losses and not found.history.extra


def test_what_was_deleted_there_is_said(played: Played, history: History, capsys: pytest.CaptureFixture[str]) -> None:
    """FHIR R4, http: a deleted resource is in no search, and asking for it gives 410; its visit still names it."""
    put(played, history)
    gone = next(name for name, one in played.resources.items() if one["resourceType"] == "Encounter")
    del played.resources[gone]
    asked = ["fetch", played.base, "--patient", who(history), "--to", "record"]
    run([*asked])
    assert "Deleted there" not in capsys.readouterr().err
    played.deleted.add(gone)
    assert run([*asked]) == 1
    assert "Deleted there, and named by what came: Encounter (1)" in capsys.readouterr().err


def test_what_was_deleted_since_is_asked_of_the_history_or_said_to_be_unknown(
    played: Played, history: History, capsys: pytest.CaptureFixture[str]
) -> None:
    """FHIR R4, http: a history has an entry without a resource for what was deleted."""
    put(played, history)
    mine = next(name for name in played.resources if name.startswith("Observation/"))
    played.versions = {mine: played.resources.pop(mine), "Observation/z": of_another()}
    played.deleted |= {mine, "Observation/z", "Observation/unknown"}
    asked = ["fetch", played.base, "--patient", who(history), "--since", "2026-03-01T00:00:00Z", "--to", "record"]
    assert run([*asked]) == 0
    said = capsys.readouterr().err
    assert "Deleted there" not in said and "does not tell what it deleted since then of: Encounter," in said
    played.types["Observation"] = {"interaction": [{"code": code} for code in ("search-type", "history-type")]}
    assert run([*asked]) == 1
    said = capsys.readouterr().err
    assert "Deleted there since then: Observation (1)" in said
    assert "the server does not tell whose it was: Observation (1)" in said


def of_another() -> Json:
    return {"resourceType": "Observation", "id": "z", "subject": {"reference": "Patient/somebody"}}


def test_an_amendment_arrives_and_what_left_is_marked(played: Played, history: History, tmp_path: Path) -> None:
    path = tmp_path / "receipt.json"
    put(played, history, receipt=read(path, played.base))
    key = next(iter(history.visits[0]["wounds"][0]["assessment"]))

    def change(data: Json) -> None:
        data["patient"]["allergies"] = [{"to": "honey"}]
        data["wounds"][0]["status"] = "closed"
        del data["visits"][0]["wounds"][0]["assessment"][key]

    new = amended(history, change)
    sent = put(played, new, receipt=read(path, played.base))
    assert sent.counts["updated"] and sent.counts["created"] and not sent.notices
    assert any(
        one["resourceType"] == "AllergyIntolerance" and one["code"].get("text") == "honey"
        for one in played.resources.values()
    )
    wound = next(
        o for o in played.resources.values() if o["resourceType"] == "Condition" and "category" in o and "bodySite" in o
    )
    assert wound["clinicalStatus"]["coding"][0]["code"] != "active"
    assert fetch(connection(played), who(history)).history.data == new.data
    assert set(put(played, new, receipt=read(path, played.base)).counts) == {"unchanged"}


def test_a_visit_that_is_gone_is_asked_about_first(played: Played, history: History, tmp_path: Path) -> None:
    path = tmp_path / "receipt.json"
    put(played, history, receipt=read(path, played.base))
    fewer = amended(history, lambda data: data["visits"].pop())
    before = copy.deepcopy(played.resources)
    sent = put(played, fewer, receipt=read(path, played.base))
    assert sent.asks and "--withdraw" in sent.notices[0]
    gone = [one for name, one in played.resources.items() if one != before.get(name)]
    assert not any(b"entered-in-error" in encode(one) for one in gone)
    sent = put(played, fewer, receipt=read(path, played.base), withdraw=True)
    assert sent.counts["withdrawn"] > 3 and not sent.asks
    assert fetch(connection(played), who(history)).history.data == fewer.data


def test_what_somebody_changed_there_is_not_written_over(played: Played, history: History, tmp_path: Path) -> None:
    path = tmp_path / "receipt.json"
    put(played, history, receipt=read(path, played.base))
    wound = next(one for one in played.resources.values() if one["resourceType"] == "Condition" and "bodySite" in one)
    played.add({**wound, "note": [{"text": "seen by the surgeon"}]})
    sent = put(played, history, receipt=read(path, played.base))
    refused = [words for _, words in sent.outcomes if words.startswith("refused")]
    assert len(refused) == 1 and "somebody changed it there: version 2" in refused[0]
    assert played.resources[f"Condition/{wound['id']}"]["note"]


def test_a_client_of_the_hospital_is_never_written_over(played: Played, history: History) -> None:
    named = history.patient["identifiers"][0]
    theirs = played.add({"resourceType": "Patient", "identifier": [named], "name": [{"family": "Kept"}]})
    sent = put(played, history)
    assert dict(sent.outcomes)[f"Patient?identifier={who(history)}"].startswith("left: it is there")
    assert played.resources[f"Patient/{theirs['id']}"]["name"] == [{"family": "Kept"}]
    assert sum(one["resourceType"] == "Patient" for one in played.resources.values()) == 1


@pytest.mark.parametrize(("policy", "words"), [("create", "left"), ("refuse", "refused")])
def test_other_policies_change_nothing(played: Played, history: History, policy: Any, words: str) -> None:
    put(played, history)
    before = copy.deepcopy(played.resources)
    sent = put(played, amended(history, lambda data: data["wounds"][0].update(note="seen again")), policy=policy)
    assert sent.counts[words] == 1 and played.resources == before


def test_a_dry_run_sends_nothing(played: Played, history: History) -> None:
    sent = put(played, history, dry_run=True)
    assert set(sent.counts) == {"to create"} and not played.resources


def test_two_clients_stay_apart(played: Played, history: History) -> None:
    other = amended(history, lambda data: data["patient"]["identifiers"][0].update(value="other-417"))
    put(played, history)
    put(played, other)
    assert fetch(connection(played), who(history)).history.data == history.data
    assert fetch(connection(played), who(other)).history.data == other.data


def test_keys_by_position_of_an_earlier_version_are_taken_over(played: Played, history: History) -> None:
    """A server that has ``allergies/1``: no second allergy beside it, and not the wrong one under its name."""
    two = amended(history, lambda data: data["patient"].update(allergies=[{"to": "tape"}, {"to": "latex"}]))
    put(played, two)
    allergies = [one for one in played.resources.values() if one["resourceType"] == "AllergyIntolerance"]
    for number, one in enumerate(allergies, 1):
        one["identifier"] = [{"system": one["identifier"][0]["system"], "value": f"allergies/{number}"}]
    three = amended(two, lambda data: data["patient"]["allergies"].insert(0, {"to": "honey"}))
    sent = put(played, three)
    assert (sent.counts["updated"], sent.counts["created"]) == (2, 1)
    assert fetch(connection(played), who(history)).history.data == three.data


# -- what a server cannot do -----------------------------------------------------------------------


@pytest.mark.parametrize(
    "can",
    [
        {"searchParam": []},
        {"searchParam": [{"name": "patient"}, {"name": "subject"}]},
        {"searchParam": [], "conditionalCreate": False, "conditionalUpdate": False},
    ],
)
def test_a_type_without_a_search_by_identifier_gets_no_duplicates(played: Played, history: History, can: Json) -> None:
    played.types["Observation"] = can
    put(played, history)
    before = len(played.resources)
    assert set(put(played, history).counts) == {"unchanged"}
    assert len(played.resources) == before


@pytest.mark.parametrize(
    ("types", "words"),
    [
        ({"SupplyDelivery": None}, "it does not store SupplyDelivery"),
        ({"Goal": {"searchParam": [], "updateCreate": False}}, "it cannot find a Goal again"),
    ],
)
def test_what_it_cannot_do_is_reported_before_anything_is_sent(
    played: Played, history: History, types: Json, words: str
) -> None:
    played.types = types
    with pytest.raises(InputError, match=words):
        put(played, history)
    assert not played.resources


def test_a_type_that_it_does_not_store_is_left_out_when_a_person_says_so(played: Played, history: History) -> None:
    played.types["BodyStructure"] = None
    sent = put(played, history, without=["BodyStructure"])
    assert "not sent" in sent.notices[0] and not of(played, "BodyStructure")
    (wound,) = [one for one in of(played, "Condition") if "bodySite" in one]
    links = [one["valueReference"] for one in wound["extension"] if "valueReference" in one]
    assert all("reference" not in link and link["identifier"]["value"] for link in links if link.get("type"))
    assert set(put(played, history, without=["BodyStructure"]).counts) == {"unchanged"}


def test_what_a_server_writes_in_another_way_is_not_sent_twice(
    played: Played, history: History, tmp_path: Path
) -> None:
    """A server that drops an element of ours: with the receipt it is known that this is its form of what was sent."""
    path = tmp_path / "receipt.json"
    put(played, history, receipt=read(path, played.base))
    for one in of(played, "Observation"):
        one.pop("category", None)
    assert set(put(played, history, receipt=read(path, played.base)).counts) == {"unchanged"}
    assert put(played, history).counts["updated"] == len(of(played, "Observation"))
