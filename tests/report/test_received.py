"""``check`` on FHIR finds what a reader needs without Java (HL7 FHIR R4 4.0.1: invariants, codes, references)."""

from __future__ import annotations

import copy
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec
import pytest

from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.handover import bundle
from woundfhir.intake.source import parse
from woundfhir.output import render_resource


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return bundle(parse(story(), "story").history, "document")


def findings(made: dict[str, Any], path: Path, capfdbinary: pytest.CaptureFixture[bytes], form: str = "json") -> Any:
    path.write_bytes(render_resource(made))
    run(["check", str(path), "--format", form])
    return msgspec.json.decode(capfdbinary.readouterr().out)


def test_what_we_write_breaks_no_rule_of_r4(document: Any, tmp_path: Path, capfdbinary: Any) -> None:
    found = findings(document, tmp_path / "d.json", capfdbinary)["findings"]
    assert [one for one in found if one["rule"].startswith("FH")] == []


@pytest.mark.parametrize(
    ("break_it", "key"),
    [
        (lambda r: r.update(status="done"), "code-invalid"),
        (lambda r: r.update(dataAbsentReason={"text": "x"}), "obs-6"),
        (lambda r: r.update(encounter={"reference": r["subject"]["reference"]}), "reference-target"),
        (lambda r: r.update(partOf=[{"reference": "urn:uuid:00000000-0000-5000-8000-000000000000"}]), "not-found"),
    ],
)
def test_a_broken_resource_is_reported_with_expected_found_and_why(
    document: Any, tmp_path: Path, capfdbinary: Any, break_it: Any, key: str
) -> None:
    broken = copy.deepcopy(document)
    resource = next(e["resource"] for e in broken["entry"] if "valueCodeableConcept" in e["resource"])
    break_it(resource)
    found = findings(broken, tmp_path / "d.json", capfdbinary)["findings"]
    said = [one["message"] for one in found if one["rule"] == "FH01"]
    assert any(one.startswith(f"{key}: expected ") and ", found " in one for one in said), said


def test_a_computed_value_that_is_wrong_is_a_finding_and_its_place_is_an_expression(
    document: Any, tmp_path: Path, capfdbinary: Any
) -> None:
    wrong = copy.deepcopy(document)
    for entry in wrong["entry"]:
        if any(url.endswith("/computed") for url in entry["resource"]["meta"].get("profile", ())):
            entry["resource"]["valueQuantity"]["value"] = Decimal("1.00")
    path = tmp_path / "d.json"
    found = findings(wrong, path, capfdbinary)["findings"]
    assert len([one for one in found if one["rule"] == "FH02"]) == 6
    issues = findings(wrong, path, capfdbinary, "outcome")["issue"]
    assert any("FH02" in issue["diagnostics"] for issue in issues)


def test_every_report_can_show_it(document: Any, tmp_path: Path, capfdbinary: Any) -> None:
    broken = copy.deepcopy(document)
    broken["entry"][1]["resource"]["gender"] = "unheard of"
    path = tmp_path / "d.json"
    path.write_bytes(render_resource(broken))
    for form in ("text", "json", "outcome", "junit", "sarif", "html"):
        assert run(["check", str(path), "--format", form]) == 1
        assert b"code-invalid" in capfdbinary.readouterr().out, form
    assert run(["explain", "FH01"]) == 0
    assert b"R4" in capfdbinary.readouterr().out


def test_what_r4_does_not_define_in_xml_is_kept_listed_carried_on_and_reported(
    tmp_path: Path, capfdbinary: Any
) -> None:
    there, back, again = tmp_path / "came.xml", tmp_path / "record.yaml", tmp_path / "again.xml"
    there.write_bytes(
        b'<Observation xmlns="http://hl7.org/fhir"><id value="a"/><status value="final"/><code><text value="x"/></code>'
        b'<bodyStructure><depth value="4.10"/></bodyStructure></Observation>'
    )
    assert run(["convert", str(there), "--to", "record", "-o", str(back)]) == 0
    assert b"Observation.bodyStructure: no element of FHIR R4" in capfdbinary.readouterr().err
    words = '<bodyStructure xmlns="http://hl7.org/fhir"><depth value="4.10"/></bodyStructure>'
    assert words in back.read_text("utf-8")
    assert run(["convert", str(back), "--to", "fhir-xml", "-o", str(again)]) == 0
    assert parse(again.read_bytes(), "again").history == parse(back.read_bytes(), "back").history
    capfdbinary.readouterr()
    run(["check", str(there), "--format", "json"])
    found = msgspec.json.decode(capfdbinary.readouterr().out)["findings"]
    assert ("FH01", "Observation.bodyStructure") in [(one["rule"], one["path"]) for one in found]
    run(["receive", str(there.rename(tmp_path / "one.xml"))])
    assert b"Observation.bodyStructure: no element of FHIR R4" in capfdbinary.readouterr().out


@pytest.mark.parametrize(
    "verb", [["convert", "--to", "fhir-xml"], ["bundle", "--to", "fhir-xml"]], ids=["convert", "bundle"]
)
def test_what_r4_does_not_define_in_json_goes_along_where_xml_cannot_say_it(
    document: Any, tmp_path: Path, capfdbinary: Any, verb: list[str]
) -> None:
    odd = copy.deepcopy(document)
    resource = next(e["resource"] for e in odd["entry"] if "valueQuantity" in e["resource"])
    resource["bodyStructure"] = {"depth": Decimal("4.10")}
    came, made = tmp_path / "came.json", tmp_path / "made.xml"
    came.write_bytes(render_resource(odd))
    assert run([verb[0], str(came), *verb[1:], "-o", str(made)]) == 0
    found = parse(made.read_bytes(), "made")
    kept = [item for item in found.history.extra if item["why"] == "no element of FHIR R4"]
    assert [item["came"] for item in kept] == ['{"depth":4.10}']
    assert kept[0]["from"].endswith(".resource.bodyStructure")
    assert any(
        line.endswith(".resource.bodyStructure: no element of FHIR R4")
        for line in (*found.losses, *(found.report.lines("kept") if found.report else ()))
    )
