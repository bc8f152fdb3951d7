"""Many clients on the command line: how many there are, how to choose, and a person's decision that two are one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.cli.receiving import tree, whole
from woundfhir.handover import bundle
from woundfhir.intake.formats import FORMATS
from woundfhir.r4 import jsonio
from woundfhir.record import History
from woundfhir.record.files import to_yaml

MANY = ("csv", "ndjson", "record-ndjson")


def client(number: str, system: str = "urn:example:card") -> History:
    entry = {"wound": "W1", "assessment": {"length": "3.0 cm", "width": "2.0 cm"}}
    visit = {"id": "V1", "at": "2026-03-02T10:05:00-05:00", "status": "final", "wounds": [entry]}
    patient = {"identifiers": [{"system": system, "value": number}]}
    return History.of({"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}], "visits": [visit]})


@pytest.fixture(params=MANY)
def three(request: Any, tmp_path: Path) -> Path:
    form = FORMATS[request.param]
    path = tmp_path / f"three{form.suffixes[0]}"
    path.write_bytes(form.write_many([client("A-17"), client("B-28"), client("C-39")]))
    return path


def test_it_says_how_many_there_are_and_how_to_choose(said: Any, three: Path) -> None:
    code, out, err = said("bundle", three)
    assert (code, out) == (2, "")
    assert "the records of 3 clients or files are here" in err
    assert "--patient" in err
    assert not any(number in err for number in ("A-17", "B-28", "C-39", "urn:example"))


@pytest.mark.parametrize("wanted", ["2", "#2", "B-28", "urn:example:card|B-28"])
@pytest.mark.parametrize("verb", ["bundle", "convert", "check", "trend"])
def test_a_client_is_chosen_by_number_or_identifier(said: Any, three: Path, wanted: str, verb: str) -> None:
    more = {"convert": ["--to", "record-json"], "bundle": ["--as", "collection"], "check": ["--fail-on", "never"]}
    code, out, _ = said(verb, three, "--patient", wanted, *more.get(verb, []))
    assert code == 0
    assert "A-17" not in out and "C-39" not in out
    if verb in ("bundle", "convert"):
        assert "B-28" in out


@pytest.mark.parametrize("wanted", ["0", "4", "#4", "B", "urn:other|B-28", "", "unknown"])
def test_who_is_not_there_is_not_chosen(said: Any, three: Path, wanted: str) -> None:
    code, out, err = said("bundle", three, "--patient", wanted)
    assert (code, out) == (2, "")
    assert "of the 3 clients here, none fits" in err


def test_a_number_that_could_mean_two_is_asked_about(said: Any, tmp_path: Path) -> None:
    path = tmp_path / "two.record.ndjson"
    path.write_bytes(FORMATS["record-ndjson"].write_many([client("2"), client("1")]))
    code, _, err = said("bundle", path, "--patient", "2")
    assert code == 2
    assert "the number of one client and an identifier of another" in err
    assert said("bundle", path, "--patient", "#2", "--as", "collection")[0] == 0


def test_one_value_in_two_systems_is_asked_about(said: Any, tmp_path: Path) -> None:
    path = tmp_path / "two.record.ndjson"
    path.write_bytes(FORMATS["record-ndjson"].write_many([client("7", "urn:a"), client("7", "urn:b")]))
    assert said("convert", path, "--patient", "7", "--to", "record")[0] == 2
    assert "urn:b" in said("convert", path, "--patient", "urn:b|7", "--to", "record")[1]


def test_each_row_of_a_trend_says_whose_it_is(said: Any, three: Path) -> None:
    _, out, _ = said("trend", three, "--format", "csv")
    assert [row.split(",")[:2] for row in out.splitlines()] == [
        ["client", "wound"],
        ["1", "W1"],
        ["2", "W1"],
        ["3", "W1"],
    ]
    _, out, _ = said("trend", three)
    assert "Client 2 of 3" in out


@pytest.mark.parametrize("form", MANY)
def test_what_it_wrote_it_reads(said: Any, three: Path, tmp_path: Path, form: str) -> None:
    again = tmp_path / f"again{FORMATS[form].suffixes[0]}"
    assert said("convert", three, "--to", form, "-o", again)[0] == 0
    assert said("compare", three, again, "--patient", "B-28")[:2] == (0, "No difference.\n")


def test_a_person_decides_and_the_folder_says_so(said: Any, tmp_path: Path) -> None:
    """Another number, and nothing against it: refused, then joined by a decision that is kept."""
    came, known, into = tmp_path / "came.json", tmp_path / "known.yaml", tmp_path / "in"
    came.write_bytes(jsonio.encode(bundle(whole())))
    known.write_bytes(to_yaml(client("A-17")))
    code, _, err = said("receive", came, "--known", known, "--into", into)
    assert code == 2
    assert "these may be two clients (silent: identifier, birth date, name, sex)" in err
    assert not into.exists() or tree(into) == {}
    code, out, _ = said("receive", came, "--known", known, "--into", into, "--same-client")
    assert code in (0, 1)
    assert "a person confirmed that both are one client (silent: identifier" in out
    files = tree(into)
    assert any(b"A person has confirmed that it is of the client known here" in content for content in files.values())
    assert said("rebuild", into)[0] == 0
    assert said("compare", known, came)[0] == 2
    assert said("compare", known, came, "--same-client")[0] == 1


def test_a_bundle_of_two_is_received_when_one_of_them_is_chosen(said: Any, tmp_path: Path) -> None:
    inner = [entry for number in ("A-17", "B-28") for entry in bundle(client(number), "collection")["entry"]]
    path, into = tmp_path / "two.json", tmp_path / "in"
    path.write_bytes(jsonio.encode({"resourceType": "Bundle", "type": "collection", "entry": inner}))
    code, out, err = said("receive", path, "--into", into)
    assert (code, out) == (2, "")
    assert "2 clients" in err and "--patient" in err
    assert not into.exists() or tree(into) == {}
    assert said("receive", path, "--patient", "1", "--into", into)[0] in (0, 1)
    assert not any(b"B-28" in content for content in tree(into).values())


def test_the_known_client_is_chosen_out_of_many(said: Any, three: Path, tmp_path: Path) -> None:
    came, into = tmp_path / "came.json", tmp_path / "in"
    came.write_bytes(jsonio.encode(bundle(client("B-28"))))
    assert said("receive", came, "--known", three)[0] == 2
    assert said("receive", came, "--known", three, "--patient", "A-17")[0] == 2
    assert said("receive", came, "--known", three, "--patient", "2", "--into", into)[0] in (0, 1)
    assert not any(b"A-17" in content for content in tree(into).values())
    assert said("rebuild", into)[0] == 0
