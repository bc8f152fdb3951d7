"""Documents for others: who keeps and attests them, which software made them, IPS."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given

from tests.handover.ips import broken
from tests.handover.test_bundle import AT, check_document, decode, encode
from tests.strategies import records
from woundfhir._version import __version__
from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.handover import bundle
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse
from woundfhir.record import History

Json = Any
CARD = {"system": "urn:example:card", "value": "0417"}


@pytest.fixture(scope="module")
def history() -> History:
    return parse(story(), "story").history


def head(document: Json) -> Json:
    return document["entry"][0]["resource"]


# -- around a document -----------------------------------------------------------------------------


def test_time_of_assembly_stands_beside_that_of_the_newest_note(history: History) -> None:
    """R4: Bundle.timestamp is when it was put together, Composition.date when what it says was last edited."""
    made = bundle(history, at=AT)
    assert made["timestamp"] == AT and head(made)["date"] == history.newest_instant != AT
    assert made["entry"][-1]["resource"]["recorded"] == AT
    assert encode(made) == encode(bundle(history, at=AT))
    plain = bundle(history)
    assert plain["timestamp"] == history.newest_instant
    provenance = plain["entry"][-1]["resource"]
    assert "recorded" not in provenance and provenance["_recorded"]["extension"][0]["valueCode"] == "unknown"


def test_it_says_which_software_made_it(history: History) -> None:
    made = bundle(history, at=AT)
    provenance = made["entry"][-1]["resource"]
    assert provenance["resourceType"] == "Provenance"
    assert provenance["target"] == [{"reference": made["entry"][0]["fullUrl"]}]
    (agent,), (device,) = provenance["agent"], provenance["contained"]
    assert agent["who"] == {"reference": f"#{device['id']}"} and agent["type"]["coding"][0]["code"] == "assembler"
    assert device["resourceType"] == "Device" and device["version"] == [{"value": __version__}]


def test_the_house_of_the_newest_author_keeps_it(history: History) -> None:
    made = bundle(history)
    urls = {entry["fullUrl"]: entry["resource"] for entry in made["entry"]}
    house = urls[head(made)["custodian"]["reference"]]
    assert house["resourceType"] == "Organization" and house["name"] == history.visits[-1]["by"]["organisation"]
    alone = History.of({"woundfhir": 1, "patient": {}, "visits": [{"id": "V1", "at": AT, "status": "final"}]})
    assert "custodian" not in head(bundle(alone))


def test_nobody_attests_unless_a_person_says_so(history: History) -> None:
    assert "attester" not in head(bundle(history))
    by = history.visits[-1]["by"]
    (one,) = head(bundle(history, at=AT, attested_by=by["id"]))["attester"]
    assert (one["mode"], one["time"]) == ("professional", AT)
    made = bundle(history, attested_by=by["name"])
    assert head(made)["attester"][0]["party"]["reference"] in {entry["fullUrl"] for entry in made["entry"]}
    check_document(made)
    with pytest.raises(InputError, match=r"--attested-by.*none of the record's authors") as error:
        bundle(history, attested_by="Somebody Else")
    assert "Somebody" not in str(error.value)


def test_it_is_as_confidential_as_what_is_in_it(history: History) -> None:
    """v3-Confidentiality: N is less than R; a label in the document is never lowered."""
    assert head(bundle(history))["confidentiality"] == "N"
    assert head(bundle(history, confidentiality="R"))["confidentiality"] == "R"
    label = {"system": "http://terminology.hl7.org/CodeSystem/v3-Confidentiality", "code": "V"}
    client = {"resourceType": "Patient", "id": "p", "identifier": [CARD], "birthDate": "1948-03"}
    other = {"resourceType": "Flag", "id": "f", "meta": {"security": [label]}, "status": "active"}
    came, _ = from_fhir([client, {**other, "code": {"text": "x"}, "subject": {"reference": "Patient/p"}}])
    assert head(bundle(came, at=AT))["confidentiality"] == "V"
    with pytest.raises(InputError, match="one of U, L, M, N, R, V"):
        bundle(history, confidentiality="secret")


def test_each_kind_of_document_has_an_identifier_of_its_own(history: History) -> None:
    heads = [head(bundle(history, document=kind)) for kind in ("transfer", "nurse", "ips")]
    assert len({one["identifier"]["value"] for one in heads}) == len({one["id"] for one in heads}) == 3
    assert len({one["type"]["coding"][0]["code"] for one in heads}) == 3
    later = copy.deepcopy(history.data)
    later["visits"] = later["visits"][:-1]
    again = head(bundle(History.of(later)))
    assert again["identifier"] == heads[0]["identifier"]  # the same document, of another day


def test_the_command_line_takes_the_clock_only_where_it_is_asked_to(tmp_path: Path) -> None:
    source = tmp_path / "record.yaml"
    source.write_bytes(story())

    def made(*more: str) -> Json:
        out = tmp_path / "out.json"
        assert run(["bundle", str(source), "-o", str(out), "--force", *more]) == 0
        return json.loads(out.read_bytes())

    assert made() == made()
    assert made("--at", AT) == made("--at", AT)
    now = made("--at", "now", "--confidentiality", "R", "--attested-by", "rn-204")
    assert now["timestamp"] > "2026-06" and head(now)["confidentiality"] == "R" and head(now)["attester"]
    assert run(["bundle", str(source), "--at", "soon", "-o", str(tmp_path / "x.json")]) == 2


# -- IPS -------------------------------------------------------------------------------------------


def named(raw: dict[str, Any]) -> History:
    client = {**raw["patient"], "name": {"family": "Example"}, "born": "1948-03-02", "identifiers": [CARD]}
    return History.of({**raw, "patient": client})


def test_a_patient_summary_keeps_every_rule_of_ips(history: History) -> None:
    made = bundle(history, "ips")
    assert broken(made) == [] and encode(made) == encode(bundle(history, document="ips"))
    check_document(made)
    assert made["meta"]["profile"] == ["http://hl7.org/fhir/uv/ips/StructureDefinition/Bundle-uv-ips"]
    sections = {one["title"]: one for one in head(made)["section"]}
    assert sections["Medicines"]["emptyReason"]["coding"][0]["code"] == "unavailable"
    assert "ask for the list" in sections["Medicines"]["text"]["div"]
    assert broken(bundle(history)) != []  # a transfer summary is none


@given(records())
def test_the_summary_of_any_record_keeps_the_rules_and_gives_the_record_back(raw: dict[str, Any]) -> None:
    made = named(raw)
    document = decode(encode(bundle(made, "ips", at=AT)))
    assert broken(document) == []
    check_document(document)
    back, losses = from_fhir([document])
    assert back.data == made.data
    assert {one.kind for one in losses.items} <= ({"kept"} if made.extra else set())


@pytest.mark.parametrize(("patient", "key"), [({"born": "1948"}, "name"), ({"name": {"family": "Example"}}, "born")])
def test_a_summary_of_a_client_without_name_or_birth_is_refused(patient: Json, key: str) -> None:
    with pytest.raises(InputError, match=rf"patient.{key}.*IPS") as error:
        bundle(History.of({"woundfhir": 1, "patient": {"identifiers": [CARD], **patient}}), "ips", at=AT)
    assert "1948" not in str(error.value) and "Example" not in str(error.value)
