"""``woundfhir check``: forms, exit codes, what stands on which stream, and nothing half-written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.checklist.samples import demo, entry, record, visit
from woundfhir.cli import cli, run
from woundfhir.demo import story
from woundfhir.output import render as convert

#: A checklist of one rule that every note breaks, at each level.
ONE = """
name = "one"
version = "1"
title = "One rule"
builtin = false
[[rule]]
code = "A1"
name = "always"
severity = "{severity}"
scope = "entry"
message = "Something"
fix = "Write it."
source = "us"
mark = "common practice, no source"
then = {{required = ["never there"]}}
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "story.yaml").write_bytes(story())
    for severity in ("required", "recommended"):
        (tmp_path / f"{severity}.toml").write_text(ONE.format(severity=severity), "utf-8")
    final = record(visit(entry()))
    (tmp_path / "final.json").write_text(final.json(), "utf-8")
    (tmp_path / "draft.json").write_text(record(visit(entry(), status="draft")).json(), "utf-8")
    return tmp_path


def call(*args: str) -> tuple[int, str, str]:
    """Run the whole program; return exit code, standard output, standard error."""
    result: Result = CliRunner().invoke(cli, ["check", *args], standalone_mode=False)
    if result.exception is not None:
        raise result.exception
    return int(result.return_value or 0), result.stdout, result.stderr


def test_the_first_line_is_the_verdict_and_nothing_else_is_on_standard_error(here: Path) -> None:
    code, out, err = call("story.yaml")
    assert code == 1 and err == ""
    assert out.splitlines()[0].endswith((" safety.", " to add.", " to look at.")) and "\x1b" not in out


@pytest.mark.parametrize(
    ("file", "severity", "fail_on", "expected"),
    [
        ("final.json", "required", "error", 1),
        ("final.json", "required", "never", 0),
        ("final.json", "recommended", "error", 0),
        ("final.json", "recommended", "warning", 1),
        ("draft.json", "required", "error", 0),
        ("draft.json", "required", "warning", 0),
        ("draft.json", "required", "information", 1),
    ],
)
def test_exit_codes_follow_level_and_status(here: Path, file: str, severity: str, fail_on: str, expected: int) -> None:
    code, out, _ = call(file, "--checklist", f"{severity}.toml", "--fail-on", fail_on)
    assert (code, out.splitlines()[0]) == (expected, "1 to add.")


@pytest.mark.parametrize("form", ["json", "outcome", "sarif"])
def test_forms_for_programs_are_json_on_standard_output(here: Path, form: str) -> None:
    code, out, _ = call("story.yaml", "--format", form)
    assert code == 1 and isinstance(json.loads(out), dict)


def test_fhir_and_bundles_are_checked_like_the_record_they_tell(here: Path) -> None:
    said = json.loads(call("story.yaml", "--format", "json")[1])["findings"]
    # Only the text of a record has a line for each answer.
    expected = [{key: value for key, value in one.items() if key not in ("line", "column")} for one in said]
    for form, name in (("fhir-json", "a.json"), ("fhir-xml", "a.xml"), ("ndjson", "a.ndjson"), ("csv", "a.csv")):
        Path(name).write_bytes(convert(demo(), form))
        code, out, _ = call(name, "--format", "json")
        found = [{**one, "input": "story.yaml"} for one in json.loads(out)["findings"]]
        assert (code, found) == (1, expected), form


def test_several_inputs_folders_and_standard_input(here: Path) -> None:
    Path("notes").mkdir()
    Path("notes/one.json").write_bytes(Path("final.json").read_bytes())
    Path("notes/two.json").write_bytes(Path("draft.json").read_bytes())
    code, out, _ = call("notes", "final.json", "--checklist", "required.toml", "--format", "json")
    inputs = [one["name"] for one in json.loads(out)["summary"]["inputs"]]
    assert code == 1 and inputs == ["notes/one.json", "notes/two.json", "final.json"]
    result = CliRunner().invoke(
        cli, ["check", "-", "--all", "--fail-on", "never"], input=Path("final.json").read_bytes()
    )
    assert result.exit_code == 0 and "standard input: 1 note;" in result.stdout


def test_the_report_goes_to_a_file_and_never_over_another(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "story.yaml", "--format", "html", "-o", "report.html"]) == 1
    assert Path("report.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    Path("report.html").write_text("kept", "utf-8")
    assert run(["check", "story.yaml", "-o", "report.html"]) == 2
    assert Path("report.html").read_text("utf-8") == "kept" and "--force" in capsys.readouterr().err
    assert run(["check", "story.yaml", "-o", "report.html", "--force"]) == 1
    assert Path("report.html").read_text("utf-8") != "kept"


def test_ignoring_a_rule_keeps_the_reason_in_the_report(here: Path) -> None:
    code, out, _ = call(
        "final.json", "--checklist", "required.toml", "--ignore", "SITE-A1=told by phone = twice", "--all"
    )
    assert code == 0 and "[SITE-A1] 1 finding: told by phone = twice" in out


def test_values_are_shown_only_when_asked_for(here: Path) -> None:
    odd = record(visit(entry(assessment={"length": "xxx", "width": "4.7"})))
    Path("odd.json").write_text(odd.json(), "utf-8")
    assert "xxx" not in call("odd.json")[1]
    assert "Found: xxx" in call("odd.json", "--show-values")[1]


def test_the_transfer_checklist_asks_more_of_the_newest_note(here: Path) -> None:
    plain = json.loads(call("final.json", "--format", "json")[1])["summary"]["to_add"]
    more = json.loads(call("final.json", "--format", "json", "--checklist", "transfer")[1])["summary"]
    assert more["to_add"] > plain and more["inputs"][0]["checklist"] == "transfer 1"


def test_policy_and_day_reach_the_verdict(here: Path) -> None:
    planned = record(visit(entry(plan={"next_change": "2026-03-03"}), purpose=["dressing change"]))
    Path("planned.json").write_text(planned.json(), "utf-8")
    args = ("planned.json", "--format", "json", "--policy", "international")
    then, later = (json.loads(call(*args, "--today", day)[1]) for day in ("2026-03-02", "2026-09-01"))
    assert then["summary"]["inputs"][0]["policy"] == "international 1"
    assert {one["rule"] for one in later["findings"]} > {one["rule"] for one in then["findings"]}


@pytest.mark.parametrize(
    ("args", "expected"),
    [
        (["nowhere.json"], "there is no such file"),
        (["story.yaml", "--policy", "mars"], "ontario or international"),
        (["story.yaml", "--checklist", "mars"], "standard or transfer"),
        (["story.yaml", "--ignore", "GAP-wound.onset"], "CODE=REASON"),
        (["story.yaml", "--ignore", "GAP-wound.onset= "], "CODE=REASON"),
        (["story.yaml", "--ignore", "XX99=why"], "code of a rule"),
        (["story.yaml", "--today", "tomorrow"], "a date"),
        (["story.yaml", "--format", "pdf"], "--format"),
        ([], "IN"),
    ],
)
def test_what_cannot_run_says_so_in_one_line_and_exits_2(
    here: Path, args: list[str], expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["check", *args]) == 2
    said = capsys.readouterr()
    assert expected in said.err and said.out == "" and "Traceback" not in said.err


def test_colours_only_on_a_terminal_and_not_where_nobody_wants_them(monkeypatch: pytest.MonkeyPatch) -> None:
    from woundfhir.cli import common

    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert common.colours()
    monkeypatch.setenv("NO_COLOR", "1")
    assert not common.colours()
    monkeypatch.delenv("NO_COLOR")
    monkeypatch.setenv("TERM", "dumb")
    assert not common.colours()
