"""JSON as the contract says, JUnit that a JUnit reader reads, SARIF that fits its standard."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest

from tests.paths import DATA, ROOT
from tests.report.samples import FOUR, clean, judged
from woundfhir.checklist import Level
from woundfhir.cli import run
from woundfhir.language import speaking
from woundfhir.report import render


def test_json_has_the_shape_of_the_contract() -> None:
    said = json.loads(render([judged(), clean()], "json"))
    assert said.keys() == {"version", "findings", "summary"} and said["version"] == 1
    first = said["findings"][0]
    assert {"rule", "severity", "path", "message", "fix"} <= first.keys() and "value" not in first
    assert (first["rule"], first["severity"], first["kind"]) == ("XX01", "error", "caution")
    assert first["input"] == "a note.yaml" and first["wound"] == "W1" and first["note"] == "V1"
    summary = said["summary"]
    assert summary["verdict"] == "2 safety, 4 to add, 2 to look at."
    assert (summary["safety"], summary["to_add"], summary["to_look_at"], summary["on_other_notes"]) == (2, 4, 2, 0)
    assert (summary["error"], summary["warning"], summary["information"]) == (4, 2, 2)
    assert [one["name"] for one in summary["inputs"]] == ["a note.yaml", "clean.yaml"]


def test_json_shows_values_when_asked_and_keeps_reasons() -> None:
    said = json.loads(render([judged(show_values=True, ignore={"XX02": "known"})], "json"))
    assert {one["value"] for one in said["findings"]} == {"<4>\n cm"}
    assert said["summary"]["inputs"][0]["left_out"] == [{"rule": "XX02", "reason": "known", "findings": 2}]


@pytest.mark.parametrize(("fail_on", "failures"), [("error", 3), ("warning", 4), ("information", 4)])
def test_junit_is_read_by_a_reader_of_junit(fail_on: Level, failures: int) -> None:
    """Read back with junitparser, a general reader of JUnit XML."""
    junitparser = pytest.importorskip("junitparser", reason="junitparser (extra: test) reads JUnit XML")
    made = render([judged(), clean()], "junit", fail_on=fail_on)
    suites = list(junitparser.JUnitXml.fromstring(made))
    assert [(one.name, one.tests, one.failures) for one in suites] == [
        ("a note.yaml", 4, failures),
        ("clean.yaml", 4, 0),
    ]
    failed = [case for case in suites[0] if any(isinstance(r, junitparser.Failure) for r in case.result)]
    assert len(failed) == failures and all("visits[0].wounds[0].assessment.length" in c.result[0].text for c in failed)


def test_junit_skips_what_was_left_out_with_the_reason() -> None:
    junitparser = pytest.importorskip("junitparser", reason="junitparser (extra: test) reads JUnit XML")
    suite = next(iter(junitparser.JUnitXml.fromstring(render([judged(ignore={"XX02": "known"})], "junit"))))
    assert suite.skipped == 1
    skipped = [r.message for case in suite for r in case.result if isinstance(r, junitparser.Skipped)]
    assert skipped == ["known"]


SCHEMA = json.loads((DATA / "sarif_2_1_0.json").read_text("utf-8"))


def fits(made: bytes) -> list[str]:
    """Return where a log does not fit the JSON Schema of SARIF 2.1.0 (OASIS); formats, such as that of a URI, count."""
    validator = jsonschema.Draft4Validator(SCHEMA, format_checker=jsonschema.Draft4Validator.FORMAT_CHECKER)
    return [one.json_path for one in validator.iter_errors(json.loads(made))]


@pytest.mark.parametrize("language", ["en", "fr"])
def test_sarif_fits_the_schema_of_the_standard(language: str, tmp_path: Path) -> None:
    """Findings with and without a place in a file, of a rule left out, of nothing, with values; a story of many."""
    some = [judged(ignore={"XX02": "known"}), clean(), replace(judged(show_values=True), name="standard input")]
    with speaking(language):
        assert fits(render(some, "sarif")) == fits(render([], "sarif")) == fits(render([clean()], "sarif")) == []
    out = tmp_path / "story.sarif"
    story = str(ROOT / "examples" / "leg-and-sacrum" / "story.yaml")
    assert run(["--lang", language, "check", story, "--ignore", "PK03=seen", "--fail-on", "never", "-o", str(out)]) == 0
    assert fits(out.read_bytes()) == []
    found = json.loads(out.read_bytes())["runs"][0]["results"]
    assert any("region" in one["locations"][0]["physicalLocation"] for one in found)


@pytest.mark.parametrize(
    ("old", "new"),
    [(b'"2.1.0"', b'"2.1"'), (b'"level": "error"', b'"level": "bad"'), (b'"ruleIndex": 0', b'"ruleIndex": -2')],
)
def test_a_log_that_breaks_the_schema_is_seen(old: bytes, new: bytes) -> None:
    made = render([judged()], "sarif")
    assert old in made and fits(made.replace(old, new)) != []


def test_sarif_fits_the_object_model_of_the_standard() -> None:
    """SARIF 2.1.0 (OASIS), through sarif-pydantic, a general model of it."""
    sarif = pytest.importorskip("sarif_pydantic", reason="sarif-pydantic (extra: test) holds the model of SARIF")
    made = json.loads(render([judged(ignore={"XX02": "known"}), clean()], "sarif"))
    sarif.Sarif.model_validate(made)
    log = made["runs"][0]
    assert made["version"] == "2.1.0" and [one["id"] for one in log["tool"]["driver"]["rules"]] == [
        "XX01",
        "XX02",
        "XX03",
        "XX04",
    ]
    for result in log["results"]:
        assert log["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == result["ruleId"]
        assert result["level"] in ("error", "warning", "note")
        assert result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "a%20note.yaml"
    suppressed = [one for one in log["results"] if "suppressions" in one]
    assert {one["ruleId"] for one in suppressed} == {"XX02"}
    assert suppressed[0]["suppressions"] == [{"kind": "external", "justification": "known"}]


def test_sarif_of_the_drafts_is_a_note_and_standard_input_has_no_file() -> None:
    from dataclasses import replace

    log = json.loads(render([replace(judged(), name="standard input")], "sarif"))["runs"][0]
    assert {one["level"] for one in log["results"] if one["ruleId"] == "XX03"} == {"error", "note"}
    assert all("physicalLocation" not in place for one in log["results"] for place in one["locations"])


@pytest.mark.parametrize("form", ["text", "json", "junit", "sarif", "html", "outcome"])
def test_the_same_verdict_gives_the_same_bytes(form: str) -> None:
    assert render([judged()], form) == render([judged()], form)
    assert FOUR.rules
