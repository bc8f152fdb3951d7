"""``woundfhir explain``: every rule, concept and policy has its page."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.checklist.samples import entry, record, visit
from tests.report.test_check_command import ONE
from woundfhir.catalogue import catalogue
from woundfhir.chart.conditions import CONDITIONS
from woundfhir.checklist import judge, rules, site
from woundfhir.checklist.policy import load
from woundfhir.cli import run
from woundfhir.cli.explain_ import command


def explain(*args: str) -> str:
    result = CliRunner().invoke(command, args, catch_exceptions=False)
    assert result.exit_code == 0
    return " ".join(result.stdout.split())


def words(text: str) -> str:
    return " ".join(text.split())


def test_every_rule_has_a_page_with_why_wrong_right_fix_and_source() -> None:
    for rule in rules():
        said = explain(rule.code)
        for heading in ("Why", "Wrong", "Right", "Fix", "Source"):
            text = getattr(rule.page, heading.lower())
            assert f"{heading}: {words(text)}" in said, rule.code


def test_a_rule_is_found_by_its_name_and_in_any_case() -> None:
    rule = rules()[0]
    assert explain(rule.name) == explain(rule.code.lower()) == explain(rule.code)


def test_every_concept_has_a_page() -> None:
    for concept in catalogue().concepts(fields=True):
        said = explain(concept.path)
        assert f"{concept.path}: {words(concept.label)}" in said and words(concept.question) in said
        for coding in concept.codings:
            assert coding.code in said


def test_a_concept_is_found_by_its_key_where_only_one_has_it() -> None:
    assert explain("exudate_amount") == explain("exudate-amount") == explain("assessment.exudate_amount")
    assert "GAP-assessment.exudate_amount" in explain("exudate_amount")


@pytest.mark.parametrize("name", ["ontario", "international"])
def test_a_policy_prints_every_number_with_its_source(name: str) -> None:
    said = explain(name)
    policy = load(name)
    for key, limit in policy.limits.items():
        assert f"{key} = {policy.says(key)}" in said and f"{words(limit.source)} ({limit.mark})" in said


def test_without_an_argument_every_rule_is_listed() -> None:
    lines = CliRunner().invoke(command, [], catch_exceptions=False).stdout.splitlines()
    listed = {line.split()[0] for line in lines if line.startswith("  ")}
    assert {rule.code for rule in rules()} <= listed
    assert lines[-1].startswith(f"{len(listed)} rules.")


def test_rules_of_a_site_are_explained_too(tmp_path: Path) -> None:
    file = tmp_path / "ours.toml"
    file.write_text(ONE.format(severity="caution"), "utf-8")
    assert "Fix: Write it." in explain("SITE-A1", "--checklist", str(file))


def test_an_unknown_name_exits_2_and_says_what_is_near(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["explain", "exudate_amont"]) == 2
    said = capsys.readouterr()
    assert "assessment.exudate_amount" in said.err and said.out == ""
    assert run(["explain", "qqqq"]) == 2
    assert "`woundfhir explain` lists the rules" in capsys.readouterr().err


def test_every_condition_has_a_page() -> None:
    for name, condition in CONDITIONS.items():
        assert words(condition.says()) in explain(name).replace("Holds always", "always")


def test_the_files_to_start_from_are_printed_and_can_be_used(tmp_path: Path) -> None:
    for kind, read in (("checklist", site.load), ("policy", load)):
        printed = CliRunner().invoke(command, [kind], catch_exceptions=False).stdout
        file = tmp_path / f"{kind}.toml"
        file.write_text(printed, "utf-8")
        assert read(file).name.startswith("example site")


def test_the_example_checklist_does_what_it_says() -> None:
    made = site.parse((files("woundfhir.checklist") / "checklists" / "example.toml").read_text("utf-8"), "example.toml")
    supplies = [{"item": "foam", "lot": "A1"}, {"item": "foam"}]
    verdict = judge(record(visit(entry(supplies=supplies)), contact={"name": "Example"}), checklist=made)
    found = {one.rule: one.path for one in verdict.findings if one.rule.startswith("SITE-")}
    assert found == {"SITE-LOT": "visits[0].wounds[0].supplies[1].lot", "SITE-PHONE": "patient.contact.phone"}
    assert [(one.code, one.reason) for one in verdict.left_out] == [("GAP-visit.setting", "all our visits are at home")]


@pytest.mark.parametrize(("old", "now"), [("SN05", "SE05"), ("M-assessment.length", "GAP-assessment.length")])
def test_a_retired_code_shows_the_page_of_the_rule_that_took_its_place(old: str, now: str) -> None:
    said = explain(old)
    assert f"{old} is retired. The rule is now {now}:" in said and "Why:" in said


def test_an_answer_list_is_explained_by_its_name() -> None:
    said = explain("told")
    assert said.startswith("told: Who was told, by role") and "nurse practitioner (also: NP)" in said
    assert "Asked: plan.escalation.told" in said and "Source:" in said
    assert explain("action about").startswith("action_about:")
