"""Inputs that tools/fuzz.py found, each as small as it still shows the fault: the record is read back the same.

The laws are those of the fuzzer (``tools/fuzzing/entrances.py``): what is accepted is the same record after every form,
what is refused is refused with an error of ours, and no message holds a word of the input.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.intake.foreign.inputs import length
from woundfhir import History, dumps, from_fhir, read, to_fhir
from woundfhir.errors import InputError
from woundfhir.handover.receive import receive
from woundfhir.intake.source import parse
from woundfhir.output import render
from woundfhir.report.elements import Elements
from woundfhir.tables.mapping import read_map
from woundfhir.tables.reading import read_table

_FOUND, _OPEN = (
    [json.loads(line) for line in Path(__file__).with_name(name).read_text("utf-8").splitlines()]
    for name in ("read_back.jsonl", "open.jsonl")
)
_PATIENT = {"resourceType": "Patient", "id": "p", "identifier": [{"system": "urn:example:clinic", "value": "C-1"}]}


def _without_extra(history: History) -> dict[str, Any]:
    return {key: value for key, value in history.data.items() if key != "extra"}


@pytest.mark.parametrize("form", ["record", "fhir-json", "fhir-xml", "ndjson"])
@pytest.mark.parametrize("number", range(len(_FOUND)), ids=[one["was"] for one in _FOUND])
def test_what_was_found_is_read_back_the_same(number: int, form: str) -> None:
    lines = "\n".join(json.dumps(one) for one in _FOUND[number]["resources"])
    history = parse(lines.encode(), "found").history
    assert history.visits or history.extra
    back = parse(render(history, form), "back").history
    assert _without_extra(back) == _without_extra(history)


@pytest.mark.xfail(strict=True, raises=(AssertionError, InputError), reason="open: what is mended goes to read_back")
@pytest.mark.parametrize("number", range(len(_OPEN)), ids=[one["was"] for one in _OPEN])
def test_what_is_open_is_not_read_back_the_same(number: int) -> None:
    history, _ = from_fhir(_OPEN[number]["resources"])
    assert _without_extra(from_fhir(to_fhir(history))[0]) == _without_extra(history)


@pytest.mark.parametrize("name", [{}, {"id": ""}])
@pytest.mark.parametrize(
    ("resource", "found"),
    [
        ({"resourceType": "Condition", "code": {"text": "pressure injury"}}, "wounds"),
        ({"resourceType": "Encounter", "status": "finished", "type": [{"text": "dressing change"}]}, "visits"),
    ],
    ids=["wound", "visit"],
)
def test_a_wound_and_a_visit_need_no_id(resource: dict[str, Any], found: str, name: dict[str, str]) -> None:
    """HL7 FHIR R4, Resource.id is 0..1: what has not been stored yet has none."""
    history, report = from_fhir({**resource, **name})
    (one,) = history.data[found]
    assert one["id"] and sum(report.counts.values()) == _leaves({**resource, **name})


def test_a_resource_of_ours_whose_meta_is_no_object_is_read() -> None:
    (size,) = (one for one in to_fhir(read(_came())[0]) if "valueQuantity" in one)
    assert from_fhir({**size, "meta": "\\"})[0].wounds


def test_an_order_is_not_made_of_an_empty_note() -> None:
    (found,) = [one for one in _FOUND if one["was"] == "visits-wounds-plan-order-length"]
    history, _ = from_fhir(found["resources"])
    assert not history.visits and "note" in str(history.extra)


def test_amended_and_final_parts_of_a_visit_that_did_not_come_are_one_amended_note() -> None:
    parts = [
        {
            "resourceType": "Observation",
            "id": f"o{number}",
            "status": status,
            "code": {"coding": [{"system": "http://loinc.org", "code": code}]},
            "subject": {"reference": "Patient/p"},
            "encounter": {"reference": "Encounter/e"},
            "effectiveDateTime": "2026-03-02T10:00:00-05:00",
            "valueQuantity": {"value": 4, "unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"},
        }
        for number, (status, code) in enumerate(
            [("final", "39126-8"), ("amended", "39125-0"), ("preliminary", "39127-6")]
        )
    ]
    states = [
        [
            (visit["status"], sorted(visit["wounds"][0]["assessment"]))
            for visit in from_fhir([_PATIENT, *order])[0].visits
        ]
        for order in (parts, parts[::-1])
    ]
    assert states[0] == [("amended", ["length", "width"]), ("draft", ["depth"])]
    assert sorted(states[1]) == sorted(states[0])


def _came(**changed: Any) -> bytes:
    size = {**length("s", 4, effectiveDateTime="2026-03-02"), **changed}
    entries = [{"fullUrl": f"http://x.example/{one['resourceType']}", "resource": one} for one in (_PATIENT, size)]
    return json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries}).encode()


@pytest.mark.parametrize("changed", [{"contained": None}, {"effectiveDateTime": "²"}, {"effectiveDateTime": "²²²²"}])
def test_receive_takes_or_refuses(changed: dict[str, Any]) -> None:
    try:
        assert receive(_came(**changed), None).merged.history.wounds
    except InputError as error:
        assert error.fix


def test_a_name_that_r4_does_not_have_stands_in_no_refusal() -> None:
    lost = {"reference": "urn:uuid:2b292c3d-882c-59a2-a1d6-0767d32792d0"}
    with pytest.raises(InputError) as refused:
        receive(_came(partOf=[lost], performer=[{"MARK4711": lost}], **{"Ana Testcase": lost}), None)
    text = str(refused.value)
    assert "MARK4711" not in text and "Testcase" not in text
    assert "resource.partOf[0].reference" in text and "resource.performer[0].?.reference" in text


def test_a_place_that_is_no_text_is_no_place_of_ours() -> None:
    made = json.loads(dumps(read(_came())[0], format="fhir-json"))
    system = next(
        one["system"] for one in made["entry"][1]["resource"]["identifier"] if one["system"].startswith("urn:uuid:")
    )
    for entry in made["entry"]:
        for one in entry["resource"].get("identifier", ()):
            one["value"] = [one["value"]] if isinstance(one, dict) and one.get("system") == system else one["value"]
    content = json.dumps(made).encode()
    Elements(parse(content, "odd").history, "fhir-json", content)


def test_a_line_of_a_table_under_its_header_is_no_client() -> None:
    columns = {"Family": "patient.name.family", "Date": "visit.at", "Site": "wound.site", "L": "assessment.length"}
    rows = "\n".join(f'[[column]]\nname = "{name}"\nto = "{to}"' for name, to in columns.items())
    mapping = f'table = 1\nclient = ["Family", "L"]\nwound = ["Site"]\n{rows}\nunit = "cm"'
    table = b"Family,Date,Site,L\n---,---,---,---\nAlpha,2026-03-02,heel,3\n"
    found = list(read_table(table, "a.csv", read_map(mapping, "m.toml")))
    assert [len(one.history.visits) for one in found] == [1, 0]
    assert [item["place"] for item in found[1].history.extra] == ["row 2"]


def test_a_column_whose_name_is_a_number_alone_is_kept() -> None:
    table = b"woundfhir,patient.born,wound.id,visit.id,assessment.length,1\n1,1948-03,W1,V1,4 cm,\n,,W1,V2,,seen\n"
    history = parse(table, "a.csv").history
    assert [visit["id"] for visit in history.visits] == ["V1", "V2"] and "'seen'" in str(history.extra)
    assert parse(render(history, "csv"), "back").history.data == history.data


# -- carried in others -----------------------------------------------------------------------------


@pytest.mark.parametrize("deep", [False, True])
@pytest.mark.parametrize("order", [1, -1])
def test_a_parameters_is_read_as_the_bundle_in_it(order: int, deep: bool) -> None:
    """HL7 FHIR R4, operations: what $everything and others give back may stand in a Parameters."""
    plain = json.loads(_came())
    part = {"name": "return", "resource": {**plain, "entry": plain["entry"][::order]}}
    asked = {"resourceType": "Parameters", "parameter": [{"name": "all", "part": [part]} if deep else part]}
    found, report = from_fhir([asked])
    assert _without_extra(found) == _without_extra(from_fhir([plain])[0])
    assert sum(report.counts.values()) == _leaves(asked)
    assert receive(json.dumps(asked).encode(), None).merged.history.wounds == found.wounds


def test_what_a_parameters_says_beside_its_resources_is_kept() -> None:
    asked = {
        "resourceType": "Parameters",
        "parameter": [{"name": "return", "resource": _PATIENT}, {"name": "total", "valueInteger": 3}],
    }
    history, report = from_fhir([asked])
    assert history.patient["identifiers"] and '"valueInteger":3' in str(history.extra)
    assert sum(report.counts.values()) == _leaves(asked)


def _leaves(value: Any) -> int:
    if isinstance(value, dict | list):
        return sum(map(_leaves, value.values() if isinstance(value, dict) else value))
    return 1


def test_an_entry_that_deletes_names_the_type_and_no_id() -> None:
    bundle = json.loads(_came())
    bundle["entry"].append({"request": {"method": "DELETE", "url": "Observation/ana-testcase"}})
    (line,) = [str(one) for one in from_fhir([bundle])[1].lines() if "deleted" in str(one)]
    assert "Bundle.entry[2]: Observation: " in line and "testcase" not in line
