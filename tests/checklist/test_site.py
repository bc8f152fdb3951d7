"""A site's own checklist: rules in JSON Schema on each scope, and clear errors for a file that is none."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.checklist.samples import entry, record, visit
from woundfhir.checklist import Finding, check, judge, rules
from woundfhir.checklist.site import BUILT_IN, load, parse
from woundfhir.errors import InputError
from woundfhir.record import History

HEAD = 'name = "ours"\nversion = "2"\ntitle = "Our own rules"\nbuiltin = false\n'
RULE = """
[[rule]]
code = "LOT"
name = "lot-number-of-a-dressing"
severity = "required"
scope = "entry"
message = "A supply without its lot number"
fix = "Write the lot number from the package."
source = "Our supply manual 2026"
mark = "seen"
when = {required = ["supplies"]}
then = {properties = {supplies = {items = {required = ["lot"]}}}}
"""


def judged(text: str, history: History) -> list[Finding]:
    return check(history, checklist=parse(text, "ours.toml"))


def test_a_rule_finds_what_its_then_does_not_fit_and_names_the_place() -> None:
    without = record(visit(entry(supplies=[{"item": "gauze", "lot": "1"}, {"item": "foam"}])))
    found = judged(HEAD + RULE, without)
    assert [(f.rule, f.level, f.path) for f in found] == [("SITE-LOT", "error", "visits[0].wounds[0].supplies[1].lot")]
    assert found[0].message == "A supply without its lot number" and found[0].source == "Our supply manual 2026 (seen)"
    assert (found[0].wound, found[0].visit) == ("W1", "V1")


@pytest.mark.parametrize("supplies", [None, [{"item": "gauze", "lot": "1"}]])
def test_a_rule_is_silent_where_when_does_not_fit_or_then_does(supplies: Any) -> None:
    assert judged(HEAD + RULE, record(visit(entry(supplies=supplies)))) == []


def rule(scope: str, when: str, then: str, more: str = "") -> str:
    lines = RULE.splitlines()
    kept = [line for line in lines if not line.startswith(("when", "then", "scope"))]
    return HEAD + "\n".join([*kept, f'scope = "{scope}"', f"when = {when}", f"then = {then}", more]) + "\n"


@pytest.mark.parametrize(
    ("scope", "when", "then", "path"),
    [
        ("entry", "{}", '{required = ["care"]}', "visits[0].wounds[0].care"),
        ("entry", "{}", '{properties = {wound = {required = ["cause"]}}}', "wounds[0].cause"),
        ("entry", "{}", '{properties = {visit = {required = ["setting"]}}}', "visits[0].setting"),
        ("entry", "{}", '{properties = {client = {required = ["team"]}}}', "visits[0].client.team"),
        ("entry", "{}", '{properties = {patient = {required = ["contact"]}}}', "patient.contact"),
        ("visit", "{}", '{required = ["note"]}', "visits[0].note"),
        ("visit", "{}", '{properties = {by = {required = ["designation"]}}}', "visits[0].by.designation"),
        ("wound", "{}", '{required = ["onset"]}', "wounds[0].onset"),
        ("wound", "{}", '{properties = {kind = {const = "burn"}}}', "wounds[0].kind"),
        ("patient", "{}", '{required = ["sex"]}', "patient.sex"),
        ("record", "{}", "{properties = {visits = {minItems = 2}}}", "visits"),
    ],
)
def test_each_scope_looks_at_what_it_names(scope: str, when: str, then: str, path: str) -> None:
    history = record(visit(by={"name": "A. Nurse"}))
    assert [found.path for found in judged(rule(scope, when, then), history)] == [path]


def test_named_conditions_and_a_fixed_path() -> None:
    text = rule("entry", "{}", '{required = ["note"]}', 'conditions = ["venous ulcer"]\npath = "assessment"')
    assert [found.path for found in judged(text, record(visit()))] == ["visits[0].wounds[0].assessment"]
    burn = [{"id": "W1", "kind": "burn", "site": "hand"}]
    assert judged(text, record(visit(), wounds=burn)) == []


def test_no_value_of_the_client_is_in_the_finding() -> None:
    text = rule("patient", "{}", "{properties = {note = {maxLength = 3}}}")
    found = judged(text, record(visit(), note="Marker Name"))
    assert found and "Marker" not in repr(found)


def test_the_built_in_rules_stay_unless_the_file_says_otherwise() -> None:
    own = parse(HEAD.replace("builtin = false\n", "") + RULE, "ours.toml")
    assert {one.code for one in own.rules} == {one.code for one in rules()} | {"SITE-LOT"}
    assert [one.code for one in parse(HEAD + RULE, "ours.toml").rules] == ["SITE-LOT"]


def test_rules_left_out_by_the_file_keep_their_reason() -> None:
    text = HEAD.replace("builtin = false\n", "") + '[ignore]\n"GAP-wound.onset" = "asked at intake"\n'
    verdict = judge(record(visit()), checklist=parse(text, "ours.toml"))
    assert [(one.code, one.reason, len(one.findings)) for one in verdict.left_out] == [
        ("GAP-wound.onset", "asked at intake", 1)
    ]
    assert "GAP-wound.onset" not in {found.rule for found in verdict.findings}


@pytest.mark.parametrize("name", BUILT_IN)
def test_built_in_checklists_hold_every_rule(name: str) -> None:
    assert load(name).rules == rules() and load(name).transfer is (name == "transfer")


@pytest.mark.parametrize(
    ("text", "place", "expected"),
    [
        ("name = ", "ours.toml", "TOML"),
        ('version = "1"\ntitle = "t"\n', "ours.toml", "name"),
        (HEAD, "ours.toml", "at least one rule"),
        (HEAD.replace("false", '"no"') + RULE, "builtin", "true or false"),
        (HEAD + "colour = 1\n" + RULE, "colour", "one of"),
        (HEAD + RULE + 'colour = "red"\n', "rule 1.colour", "one of"),
        (HEAD + RULE.replace('fix = "Write the lot number from the package."\n', ""), "rule 1", "'fix'"),
        (HEAD + RULE.replace('"required"\nscope', '"bad"\nscope'), "rule 1.severity", "caution"),
        (HEAD + RULE.replace('"entry"', '"shift"'), "rule 1.scope", "visit"),
        (HEAD + RULE.replace('mark = "seen"', 'mark = "sure"'), "rule 1.mark", "from memory"),
        (HEAD + RULE.replace('"Our supply manual 2026"', '" "'), "rule 1.source", "a text"),
        (HEAD + RULE.replace('"LOT"', '"L O T"'), "rule 1", "letters"),
        (HEAD + RULE.replace("then = {properties", 'then = {type = "objct", properties'), "rule 1.then", "JSON Schema"),
        (
            HEAD + RULE.replace('then = {properties = {supplies = {items = {required = ["lot"]}}}}', "then = 3"),
            "rule 1.then",
            "table",
        ),
        (HEAD + rule("entry", "{}", '{"$ref" = "https://example.org/x.json"}')[len(HEAD) :], "rule 1.then", "$ref"),
        (HEAD + RULE + 'conditions = ["full moon"]\n', "rule 1.conditions", "dressing change"),
        (HEAD + RULE + RULE, "rule 2.code", "no other rule"),
        (HEAD + 'ignore = "all"\n' + RULE, "ignore", "table"),
        (HEAD + RULE + '[ignore]\nXX99 = "why"\n', "ignore.XX99", "code of a rule"),
        (HEAD + RULE + '[ignore]\n"SITE-LOT" = " "\n', "ignore.SITE-LOT", "a reason"),
        (HEAD + "rule = 3\n", "rule", "[[rule]]"),
    ],
)
def test_a_file_that_is_no_checklist_is_refused_with_its_place(text: str, place: str, expected: str) -> None:
    with pytest.raises(InputError) as error:
        parse(text, "ours.toml")
    assert error.value.where.startswith("ours.toml") and place in error.value.where and expected in str(error.value)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="standard or transfer"):
        load(tmp_path / "none.toml")


def test_two_checklists_are_used_together_unless_they_use_one_code_for_two_rules() -> None:
    first, second = parse(HEAD + RULE, "a.toml"), parse(HEAD + RULE.replace("LOT", "LOT2"), "b.toml")
    verdict = judge(record(visit(entry(supplies=[{"item": "foam"}]))), checklist=[first, second])
    assert [found.rule for found in verdict.findings] == ["SITE-LOT", "SITE-LOT2"]
    assert verdict.checklist == "ours 2 + ours 2"
    with pytest.raises(InputError, match="only one checklist"):
        judge(record(visit()), checklist=[first, parse(HEAD + RULE, "c.toml")])
