"""What systems send around their resources is read as they mean it; HL7 FHIR R4, the section beside each case."""

from __future__ import annotations

import random
from decimal import Decimal
from typing import Any

import msgspec
import pytest

from tests.intake.facts import aside, facts
from tests.intake.foreign.inputs import bundle, client, length, visit, wound
from tests.intake.foreign.systems import ALL, BOTH, NO_TYPE, SYSTEMS, gone, history, said_by, version
from woundfhir import from_fhir, read_many
from woundfhir.fhir import to_fhir
from woundfhir.record import History

Json = Any
encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode


@pytest.mark.parametrize("name", SYSTEMS)
def test_each_fact_is_at_its_wound_and_what_is_none_says_why(name: str) -> None:
    came, expected, others = SYSTEMS[name]
    record = from_fhir(came).history.data
    assert facts(record) == expected
    assert aside(*came) == others
    assert len(record["wounds"]) == (0 if "kept Observation/l: its wound does not count" in others else 1)


@pytest.mark.parametrize("name", SYSTEMS)
def test_it_is_read_again_the_same_from_what_goes_out(name: str) -> None:
    record = from_fhir(SYSTEMS[name][0]).history
    out = decode(encode(to_fhir(record)))
    assert from_fhir(out).history.data == record.data
    assert encode(to_fhir(from_fhir(out).history)) == encode(out)


@pytest.mark.parametrize("name", [one for one in SYSTEMS if SYSTEMS[one][0][0].get("type") == "collection"])
@pytest.mark.parametrize("seed", range(3))
def test_the_order_of_entries_says_nothing(name: str, seed: int) -> None:
    (came,), expected, others = SYSTEMS[name]
    mixed = {**came, "entry": random.Random(seed).sample(came["entry"], len(came["entry"]))}
    assert (facts(from_fhir([mixed]).history.data), aside(mixed)) == (expected, others)


@pytest.mark.parametrize(
    ("came", "said"),
    [
        (history(*map(version, ALL)), "a history, with several versions: the newest of each resource is read"),
        (
            {"resourceType": "Bundle", "type": "batch-response", "entry": [
                {"resource": bundle("searchset", *ALL)}, {"response": {"status": "404"}}]},
            "a server says that entries failed (1): what they asked for is not here",
        ),
        *(
            (
                bundle("collection", *ALL, said_by(kind, code, "Observation/elsewhere")),
                "a Provenance or an AuditEvent says that something was deleted or made void that did not come (1)",
            )
            for kind, code in (("Provenance", "DELETE"), ("AuditEvent", "D"))
        ),
    ],
)  # fmt: skip
def test_what_the_reader_must_know_is_said_and_asks(came: Json, said: str) -> None:
    history_, report = from_fhir(came)
    assert said in report.notices
    assert report.asks
    assert facts(history_.data) == BOTH


def test_what_was_made_void_goes_out_as_no_wound() -> None:
    """A receiver who does not read the Provenance must not take the wound for one."""
    came = SYSTEMS["a wound that was made void"][0]
    assert {one["resourceType"] for one in to_fhir(from_fhir(came).history)} == {"Patient", "Basic"}


def test_a_history_of_a_client_who_was_deleted_holds_nobody() -> None:
    record, report = from_fhir(history(gone("Patient/p"), version(client())))
    assert "born" not in record.patient
    assert {one.kind for one in report.items} == {"withdrawn"}


def test_of_two_clients_the_form_is_that_of_its_subject() -> None:
    answered = {"reference": "Patient/caregiver"}
    form = {"resourceType": "QuestionnaireResponse", "id": "q", "status": "completed", "source": answered}
    came = [client(), client("caregiver", birthDate="1980"), {**form, "subject": {"reference": "Patient/p"}}]
    kept = {one.history.patient["born"]: {item["from"] for item in one.history.extra} for one in read_many(came)}
    assert "QuestionnaireResponse/q" in kept["1948-03"]
    assert "QuestionnaireResponse/q" not in kept["1980"]


def test_a_client_who_is_named_by_a_conditional_reference_is_the_number_in_it() -> None:
    """R4, http, transaction: conditional references."""
    of = {"reference": "Patient?identifier=http://one.example.org/mrn|7"}
    record = from_fhir([wound("w", of=of), length("l", 4, of=of, focus=[{"reference": "Condition/w"}])]).history
    assert record.patient == {"identifiers": [{"system": "http://one.example.org/mrn", "value": "7"}]}
    assert facts(record.data) == BOTH[:1]
    assert from_fhir(decode(encode(to_fhir(record)))).history.data == record.data


def test_a_system_with_white_space_is_no_uri_and_goes_out_as_the_words_of_the_type() -> None:
    """R4, datatypes, uri: no white space in one; Identifier.type.text is what the number is called."""
    numbers = [{"system": "health card", "value": "12"}, {"system": "urn:example:mrn", "value": "7"}]
    record = History.of({"woundfhir": 1, "patient": {"identifiers": numbers}})
    (made,) = [one for one in to_fhir(record) if one["resourceType"] == "Patient"]
    first, second = made["identifier"]
    assert (first["type"], first["value"], "system" in first) == ({"text": "health card"}, "12", False)
    assert second == numbers[1]
    assert from_fhir([made]).history.patient == record.patient


def test_a_client_who_is_named_in_words_alone_is_the_same_when_read_again() -> None:
    """R4, Reference.display: the only name of a client who did not come."""
    of = {"display": "Roe, Ann"}
    record = from_fhir([wound("w", of=of), length("l", 4, of=of, focus=[{"reference": "Condition/w"}])]).history
    assert record.patient["name"] == {"text": "Roe, Ann"}
    assert from_fhir(decode(encode(to_fhir(record)))).history.data == record.data


def said(record: History) -> Json:
    return {key: value for key, value in record.data.items() if key != "extra"}


@pytest.mark.parametrize("name", [None, " ", ""])
@pytest.mark.parametrize("kinds", [{"Condition"}, {"Encounter"}, {"Condition", "Encounter"}])
@pytest.mark.parametrize("kind", ["transaction", None])
def test_what_has_no_id_and_no_address_is_read(kinds: set[str], name: str | None, kind: str | None) -> None:
    """R4, http, create: what is posted needs neither an id nor a fullUrl."""
    came = [client(), wound("w"), visit(), length("l", 4)]
    for one in came:
        if one["resourceType"] in kinds:
            one["id"] = name
        if one["resourceType"] in kinds and name is None:
            del one["id"]
    posted = [{"resource": one, "request": {"method": "POST", "url": one["resourceType"]}} for one in came]
    record = from_fhir({"resourceType": "Bundle", "type": kind, "entry": posted} if kind else came).history
    (wound_,) = record.wounds
    assert [line.replace(wound_["id"], "w") for line in facts(record.data)] == ["2026-03-02 final", *BOTH[:1]]
    again = from_fhir(decode(encode(to_fhir(record)))).history
    assert said(again) == said(record)
    assert from_fhir(decode(encode(to_fhir(again)))).history.data == again.data


# -- the same in files ---------------------------------------------------------------------------------

XML = """<Bundle xmlns="http://hl7.org/fhir"><type value="collection"/>
<entry><resource><Patient><id value="p"/></Patient></resource></entry>
<entry><resource><WoundAssessment><id value="x"/><length value="4"/></WoundAssessment></resource></entry>
<entry><resource><Condition><id value="w"/><code><text value="Pressure ulcer"/></code>
<subject><reference value="Patient/p"/></subject></Condition></resource></entry></Bundle>"""


def test_an_unknown_type_in_xml_is_set_aside_word_for_word() -> None:
    ((record, report),) = read_many(XML.encode())
    assert [one["id"] for one in record.wounds] == ["w"]
    (aside_,) = [one for one in report.items if one.kind == "not-understood"]
    assert (aside_.path, aside_.why) == ("Bundle.entry[1].resource", NO_TYPE)
    (kept,) = [one["came"] for one in record.extra if one["why"] == NO_TYPE]
    assert kept == '<WoundAssessment xmlns="http://hl7.org/fhir"><id value="x"/><length value="4"/></WoundAssessment>'


def test_a_line_without_a_type_is_set_aside() -> None:
    lines = b"\n".join(map(encode, [*ALL, {"id": "x", "note": "4 cm"}]))
    ((record, report),) = read_many(lines)
    assert facts(record.data) == BOTH
    assert [one.source for one in report.items if one.kind == "not-understood"] == ["resource/x"]


def test_a_folder_of_one_resource_a_file_is_one_input(tmp_path: Any) -> None:
    for number, one in enumerate(ALL):
        (tmp_path / f"{number}.json").write_bytes(encode(one))
    ((record, _),) = read_many(tmp_path)
    assert facts(record.data) == BOTH


def test_files_of_a_folder_with_two_contents_of_one_client_are_never_one(tmp_path: Any) -> None:
    for number, one in enumerate([*ALL, client(birthDate="1950-01-01"), wound("v")]):
        (tmp_path / f"{number}.json").write_bytes(encode(one))
    found = [one.history for one in read_many(tmp_path)]
    assert not any(one.wounds and "born" in one.patient for one in found)
