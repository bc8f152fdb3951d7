"""Reading a record: what is written stays as it is written, and what cannot be read is told in one line."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from tests.strategies import records
from woundfhir.errors import InputError
from woundfhir.intake.given import read
from woundfhir.intake.source import parse
from woundfhir.output import render
from woundfhir.record import History
from woundfhir.record.answers import StructureError
from woundfhir.record.canonical import canonical
from woundfhir.record.schema import record_schema

BASE: dict[str, Any] = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": []}


def visit(**assessment: Any) -> dict[str, Any]:
    return {**BASE, "visits": [{"id": "V1", "wounds": [{"wound": "W1", "assessment": assessment}]}]}


def assessed(raw: dict[str, Any]) -> Any:
    return History.of(raw).visits[0]["wounds"][0]["assessment"]


def test_a_quantity_keeps_its_last_zero_in_yaml_and_json() -> None:
    text = (
        b"woundfhir: 1\npatient: {}\nwounds: [{id: W1}]\n"
        b"visits: [{id: V1, wounds: [{wound: W1, assessment: {length: 4.10 cm, pain_at_rest: 3}}]}]\n"
    )
    found = read(text).history.visits[0]["wounds"][0]["assessment"]
    assert found == {"length": "4.10 cm", "pain_at_rest": "3"}
    found = read(json.dumps(visit(length="4.10 cm", pain_at_rest=3)).encode()).history.visits[0]["wounds"][0][
        "assessment"
    ]
    assert found == {"length": "4.10 cm", "pain_at_rest": "3"}


def test_a_bare_number_is_kept_bare() -> None:
    assert assessed(visit(length=Decimal("4.10"))) == {"length": "4.10"}


@pytest.mark.parametrize(
    ("written", "kept"), [("4.10cm", "4.10 cm"), ("< 0.3  cm", "<0.3 cm"), ("4,1 cm", "4,1 cm"), ("about 4", "about 4")]
)
def test_only_the_spaces_of_a_quantity_are_put_right(written: str, kept: str) -> None:
    assert assessed(visit(length=written)) == {"length": kept}


def test_the_three_states_are_three_things() -> None:
    assert assessed(visit(odour={"absent": "not assessed"}, edge="attached", bleeding=None)) == {
        "edge": ["attached"],
        "odour": {"absent": "not assessed"},
    }


def test_keys_may_have_spaces_and_hyphens() -> None:
    assert assessed(visit(**{"Exudate amount": "small", "exudate-type": "serous"})) == {
        "exudate_amount": "small",
        "exudate_type": "serous",
    }


def test_an_unknown_key_is_kept_in_extra_with_its_place() -> None:
    history = History.of(visit(lenght="4 cm", undermining=[{"from": 2, "dephth": "3 cm"}]))
    assert {(item["place"], item["value"]) for item in history.extra} == {
        ("visits[0].wounds[0].assessment.lenght", "4 cm"),
        ("visits[0].wounds[0].assessment.undermining[0].dephth", "3 cm"),
    }


def test_a_zone_gives_a_clock_time_its_offset_winter_and_summer() -> None:
    raw = {
        **BASE,
        "zone": "America/Toronto",
        "visits": [{"id": "1", "at": "2026-03-02 10:05"}, {"id": "2", "at": "2026-07-02T10:05"}],
    }
    assert [v["at"] for v in History.of(raw).visits] == ["2026-03-02T10:05:00-05:00", "2026-07-02T10:05:00-04:00"]


@pytest.mark.parametrize("zone", ["Europe/London", "UTC", "Africa/Abidjan", "Atlantic/Reykjavik", "+00:00"])
def test_an_offset_of_zero_is_written_with_a_plus(zone: str) -> None:
    """RFC 3339, section 4.3: -00:00 would say that the offset is not known."""
    raw = {**BASE, "zone": zone, "visits": [{"id": "1", "at": "2026-01-15T10:05"}]}
    assert History.of(raw).visits[0]["at"] == "2026-01-15T10:05:00+00:00"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b'{"woundfhir": 1, "patient": {', "line 1, column 30: expected the rest of the JSON"),
        (
            b'{"woundfhir": 1, "patient": {"born": "1948", "born": "1949"}}',
            "line 1, column 46 (patient.born): expected each key once",
        ),
        (b"woundfhir: 1\npatient:\n  born: 1948\n  born: 1949\n", "line 4, column 3: expected YAML with each key once"),
        (b"woundfhir: 1\npatient: &x {}\nvisits: *x\n", "YAML without aliases"),
        (b"woundfhir: 1\npatient: [unclosed\n", "readable YAML"),
        (b"woundfhir: 1\npatient: {note: heel: dry}\n", "a colon in it"),
        (b"woundfhir: 1\npatient:\n  conditions: [none, ?infection]\n", "column 23: expected an answer that begins"),
        ('{"woundfhir": 1}'.encode("utf-16"), "text in UTF-8, and this is UTF-16"),
        (b"woundfhir: 1\npatient: {name: {family: Caf\xe9}}\n", "text in UTF-8"),
        (b"\x00\x01\x02binary", "a wound record or FHIR resources"),
        (b"just words", "a wound record or FHIR resources"),
        (b'{"woundfhir": 2, "patient": {}}', "the version of the record's form"),
        (b'{"woundfhir": 1}', "expected the key 'patient'"),
        (b'{"woundfhir": 1, "patient": {}, "visits": {"a": 1}}', "visits: "),
        (b'{"woundfhir": 1, "patient": {}, "visits": [{"at": "2026"}]}', "visits[0]: expected the key 'id'"),
        (
            b'{"woundfhir": 1, "patient": {}, "wounds": [{"id": "W"}, {"id": "W"}]}',
            "wounds[1].id: expected an id used once only",
        ),
        (
            b'{"woundfhir": 1, "patient": {}, "visits": [{"id": "V", "wounds": [{"wound": "W9"}]}]}',
            "visits[0].wounds[0].wound",
        ),
        (
            b'{"woundfhir": 1, "patient": {}, "visits": [{"id": "V", "status": "SecretName"}]}',
            "expected one of: draft, final",
        ),
        (b'{"woundfhir": 1, "patient": {"born": ["SecretName"]}}', "patient.born"),
        (b"[1, 2]", "one JSON object in braces"),
    ],
)
def test_bad_input_gets_one_line_with_place_and_fix_and_no_value(content: bytes, said: str) -> None:
    with pytest.raises(InputError) as caught:
        parse(content, "note")
    assert said in str(caught.value)
    assert "SecretName" not in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_file_over_the_limit_is_refused_before_it_is_read(tmp_path: Path) -> None:
    big = tmp_path / "big.json"
    with big.open("wb") as file:
        file.truncate(300 * 1024 * 1024)
    with pytest.raises(InputError, match="at most 200 MB"):
        read(big)


def test_deep_nesting_is_refused() -> None:
    with pytest.raises(InputError):
        parse(b'{"woundfhir": 1, "patient": ' + b'{"a":' * 5000 + b"1" + b"}" * 5000 + b"}", "deep")


_junk = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-5, 5), st.sampled_from(["a", "2 cm", ""])),
    lambda inner: st.one_of(
        st.lists(inner, max_size=2),
        st.dictionaries(st.sampled_from(["absent", "none", "id", "from", "x"]), inner, max_size=2),
    ),
    max_leaves=6,
)


@settings(max_examples=200)
@given(st.sampled_from(["length", "tissue", "edge", "undermining", "odour", "limb_pressure"]), _junk)
def test_the_walker_and_the_json_schema_agree_on_structure(key: str, value: Any) -> None:
    raw = visit(**{key: value})
    valid = Draft202012Validator(record_schema()).is_valid(raw)
    try:
        kept = canonical(raw)
    except StructureError:
        assert not valid
    else:
        assert valid or "extra" in kept  # What the schema refuses and the walker reads is an unknown key, kept.


@settings(max_examples=60)
@given(records(), st.sampled_from(["record", "record-json", "csv"]))
def test_every_form_of_the_record_says_the_same(raw: dict[str, Any], form: str) -> None:
    history = History.of(raw)
    again = parse(render(history, form), form)
    assert again.history.data == history.data
    assert render(again.history, form) == render(history, form)
