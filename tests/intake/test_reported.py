"""What became of what came, on the command line: counts first, kinds for machines, and the exit code."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from tests.intake.foreign.inputs import READ, REFUSED
from woundfhir.cli import run

encode = msgspec.json.Encoder(decimal_format="number").encode


@pytest.fixture
def convert(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    def call(resource: Any, *more: str, verb: tuple[str, ...] = ("convert", "--to", "record")) -> tuple[int, str, str]:
        path = tmp_path / "came.json"
        path.write_bytes(encode(resource))
        code = run([verb[0], str(path), *verb[1:], *more])
        return code, *capsys.readouterr()

    return call


def collected(name: str) -> Any:
    entries = [{"resource": one} for one in READ[name][0]]
    return {"resourceType": "Bundle", "type": "collection", "entry": entries}


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("synthetic patient without a wound", 0),
        ("entered in error", 1),
        ("two values for one place", 1),
        ("an unknown status", 1),
    ],
)
def test_the_exit_code_says_whether_a_person_must_look(convert: Any, name: str, code: int) -> None:
    found, _, err = convert(collected(name))
    assert found == code
    assert code == 0 or " values understood" in err


def test_a_page_with_more_behind_it_is_reported(convert: Any) -> None:
    code, _, err = convert(READ["a page of a search"][0][0])
    assert code == 1
    assert "one page of several" in err


@pytest.mark.parametrize("name", ["an outcome", "an answer to a transaction", "a search without matches"])
def test_an_answer_of_a_server_is_no_empty_client(convert: Any, name: str) -> None:
    code, out, _ = convert(REFUSED[name][0][0])
    assert (code, out) == (2, "")


def test_strict_asks_about_everything_that_has_no_place(convert: Any) -> None:
    assert convert(collected("synthetic patient without a wound"), "--strict")[0] == 1
    assert convert(collected("the guide of HL7"), "--strict")[0] == 0


def test_the_counts_come_first_and_the_lines_below_agree_with_them(convert: Any, tmp_path: Path) -> None:
    _, _, err = convert(collected("two values for one place"), "--report", str(tmp_path / "report.txt"))
    first, *rest = err.splitlines()
    assert " of " in first and "conflicting" in first
    assert all(line.startswith(("  ", "Wrote ")) for line in rest)
    text = (tmp_path / "report.txt").read_text("utf-8").splitlines()
    assert text[1] in first and text[0].endswith("came.json")
    fates = {line.split()[1]: int(line.split()[0]) for line in text[2:] if line.startswith("  ")}
    said, values = (int(word) for word in text[1].split()[:3:2])
    assert said == fates["understood"] + fates.get("reworded", 0)
    assert values == sum(fates.values()) - fates["ids,"]


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        ("entered in error", "FH03"),
        ("two values for one place", "FH04"),
        ("old names and numbers", "FH03"),
        ("a plan with a cancelled activity", "FH03"),
    ],
)
def test_a_plain_record_says_what_it_carries_that_is_no_fact(
    convert: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, rule: str
) -> None:
    record = tmp_path / "record.yaml"
    convert(collected(name), "-o", str(record))
    assert run(["check", str(record), "--format", "json"]) == 1
    out = capsys.readouterr().out
    assert rule in out and "extra[" in out


@pytest.mark.parametrize("verb", [("trend",), ("bundle", "--as", "collection")])
@pytest.mark.parametrize(("name", "code"), [("entered in error", 1), ("the guide of HL7", 0)])
def test_other_verbs_end_the_same_way(convert: Any, verb: tuple[str, ...], name: str, code: int) -> None:
    assert convert(collected(name), verb=verb)[0] == code


def test_a_kind_is_listed_on_request(convert: Any) -> None:
    _, _, err = convert(collected("one value said twice"), "--list", "reworded", "--list", "bookkeeping")
    kinds = {line.split(":")[0].strip() for line in err.splitlines()[1:]}
    assert {"reworded", "bookkeeping"} <= kinds <= {"reworded", "bookkeeping", "  "}


def test_the_report_for_machines_has_a_code_for_each_kind_and_no_value(convert: Any, tmp_path: Path) -> None:
    convert(collected("entered in error"), "--report", str(tmp_path / "report.json"))
    (report,) = json.loads((tmp_path / "report.json").read_text("utf-8")).values()
    assert report["counts"]["withdrawn"] == sum(one["values"] for one in report["items"] if one["kind"] == "withdrawn")
    assert sum(report["counts"].values()) == report["leaves"]
    assert [one["path"] for one in report["items"] if one["kind"] == "withdrawn"] == ["Observation"]
    assert report["values"] > report["understood"] > 0


@pytest.mark.parametrize(("name", "rule"), [("entered in error", "FH03"), ("two values for one place", "FH04")])
def test_what_does_not_count_and_what_contradicts_are_findings(convert: Any, name: str, rule: str) -> None:
    assert rule in convert(collected(name), verb=("check", "--format", "json"))[1]
