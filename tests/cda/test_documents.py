"""What comes of CDA documents of others: held against what they say, listed by hand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cda.cases import CASES, FOLDER
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.fhir.fates import fate_of
from woundfhir.intake.inputs import Input
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse
from woundfhir.intake.traced import TracedLosses
from woundfhir.intake.validation import issues
from woundfhir.record import History

Json = Any


def read(name: str) -> Input:
    return parse(CASES[name].content, f"{name}.xml")


def said(history: History) -> dict[str, Json]:
    return {key: value for key, value in history.data.items() if key != "extra"}


def texts(node: Json) -> list[str]:
    if isinstance(node, dict):
        return [text for value in node.values() for text in texts(value)]
    return [text for value in node for text in texts(value)] if isinstance(node, list) else [str(node)]


def answers(history: History, group: str) -> dict[tuple[str, str], Json]:
    return {
        (entry["wound"], key): answer
        for visit in history.visits
        for entry in visit.get("wounds", ())
        for key, answer in (entry.get(group, {}) if group != "supplies" else {group: entry.get(group)}).items()
        if answer is not None
    }


@pytest.mark.parametrize("name", CASES)
def test_the_record_says_what_the_document_says_and_no_more(name: str) -> None:
    case, history = CASES[name], read(name).history
    keys = ("kind", "site", "side", "status")
    assert {one["id"]: tuple(one.get(key) for key in keys) for one in history.wounds} == case.wounds
    assert answers(history, "assessment") == case.said
    for key, wanted in case.client.items():
        assert history.patient.get(key) == wanted, key
    done = answers(history, "care") | answers(history, "supplies")
    assert done == {(wound, key): wanted for wound, key, wanted in case.care}
    found = " | ".join(texts(said(history)))
    assert [word for word in case.never if word in found] == []


@pytest.mark.parametrize("name", CASES)
def test_the_report_names_places_in_the_document(name: str) -> None:
    case, one = CASES[name], read(name)
    assert one.report is not None
    assert one.asks is case.asks
    assert isinstance(one.report, TracedLosses)
    for fate, place, why in case.report:
        found = [each for at, each in one.report.fates.items() if fate_of(each.kind) == fate and place in "".join(at)]
        assert any(why in each.why for each in found), (fate, place, why)
    assert all(each.path.startswith("/ClinicalDocument") for each in one.report.all)
    assert sum(one.report.counts.values()) == len(one.report.fates)


@pytest.mark.parametrize("name", CASES)
def test_what_is_written_of_it_is_read_again_the_same(name: str) -> None:
    history = read(name).history
    resources = to_fhir(history)
    again, _ = from_fhir(resources)
    assert said(again) == said(history)
    assert sorted(
        json.dumps(one, sort_keys=True) for one in again.extra if "ClinicalDocument" in one["from"]
    ) == sorted(json.dumps(one, sort_keys=True) for one in history.extra if "ClinicalDocument" in one["from"])
    # Narrative is good practice; some codes of these inputs are from memory, and their check digits fail.
    assert [one for one in issues(resources, []) if one.key not in ("dom-6", "check-digit")] == []


def test_a_document_about_two_clients_is_refused() -> None:
    with pytest.raises(InputError, match=r"two\.xml: it names 2 clients"):
        parse((FOLDER / "two_clients.xml").read_bytes(), "two.xml")


def test_same_input_same_bytes() -> None:
    one, two = read("two_wounds"), read("two_wounds")
    assert one.history.json() == two.history.json()
    assert one.report is not None and two.report is not None
    assert one.report.json() == two.report.json()


_DOCUMENT = CASES["two_wounds"].content
BAD = {
    "cut off": (_DOCUMENT[: len(_DOCUMENT) // 2], "well-formed XML"),
    "a doctype": (
        b'<!DOCTYPE a [<!ENTITY b "cc"><!ENTITY d "&b;&b;">]><ClinicalDocument xmlns="urn:hl7-org:v3">&d;'
        b"</ClinicalDocument>",
        "without a DOCTYPE",
    ),
    "another namespace": (b"<ClinicalDocument/>", "urn:hl7-org:v3"),
    "too deep": (
        b'<ClinicalDocument xmlns="urn:hl7-org:v3">'
        + b"<component>" * 120
        + b"</component>" * 120
        + b"</ClinicalDocument>",
        "at most 100 levels",
    ),
    "an unknown entity": (
        b'<ClinicalDocument xmlns="urn:hl7-org:v3"><title>&nbsp;</title></ClinicalDocument>',
        "&#160;",
    ),
    "many attributes": (
        b'<ClinicalDocument xmlns="urn:hl7-org:v3" ' + b" ".join(b'a%d="x"' % n for n in range(500)) + b"/>",
        "100 attributes",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_refused_in_one_sentence_without_a_value(name: str, tmp_path: Path) -> None:
    content, words = BAD[name]
    with pytest.raises(InputError) as caught:
        parse(content, "file.xml")
    assert words in str(caught.value)
    assert "Odile" not in str(caught.value) and "Testcase" not in str(caught.value)
    assert str(caught.value).startswith("file.xml")
