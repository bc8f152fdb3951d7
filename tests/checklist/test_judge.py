"""The pass: levels, order, what is left out, and that no record whatever makes a rule fail."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings

from tests import strategies
from tests.checklist.samples import demo, entry, record, visit
from woundfhir.chart.conditional import Condition
from woundfhir.checklist import Checklist, Finding, Problem, Rule, RuleError, Verdict, check, judge, rules
from woundfhir.checklist.finding import IMPORTANCE, label
from woundfhir.checklist.pages import Page
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import make
from woundfhir.errors import InputError
from woundfhir.record import History

MARK = "common practice, no source"
MESSAGES = {"message": "Something", "one": "One", "two": "Two", "overdue": "Overdue"}
PAGE = Page(
    "A title.", "why", "wrong", "right", "the rule's own fix", f"us ({MARK})", MARK, MESSAGES, {"two": "do this"}
)


def a_rule(code: str, severity: Any, body: Any, scope: Any = "entry", when: tuple[str, ...] = ()) -> Rule:
    return make(code, f"rule-{code.lower()}", severity, scope, "site", body, when, PAGE)


def always(view: Any, policy: Any) -> Iterator[Problem]:
    yield Problem(view.path(), value="the value")


def checklist(*members: Rule) -> Checklist:
    return Checklist("test 1", members, False, {})


EVERY = checklist(*(a_rule(f"XX{n:02d}", severity, always) for n, severity in enumerate(IMPORTANCE)))


@pytest.mark.parametrize(
    ("status", "levels"),
    [
        ("final", {"required": "error", "recommended": "warning", "sense": "error", "caution": "error"}),
        ("amended", {"required": "error", "recommended": "warning", "sense": "error", "caution": "error"}),
        (None, {"required": "error", "recommended": "warning", "sense": "error", "caution": "error"}),
        ("draft", {"required": "information", "recommended": "information", "sense": "warning", "caution": "error"}),
    ],
)
def test_gaps_of_a_draft_are_information_and_those_of_a_final_note_errors(status: str | None, levels: Any) -> None:
    found = check(record(visit(status=status)), checklist=EVERY)
    assert {one.severity: one.level for one in found} == levels
    assert all(one.draft is (status == "draft") for one in found)


def test_notes_in_error_and_replaced_notes_are_not_judged() -> None:
    history = record(
        visit(id="a"), visit(id="b", replaces="a", status="amended"), visit(id="c", status="entered in error")
    )
    assert {one.visit for one in check(history, checklist=EVERY)} == {"note 2"}
    assert judge(history, checklist=EVERY).notes == 1


def test_a_wound_in_error_is_not_judged() -> None:
    wounds = [{"id": "W1", "status": "entered in error"}]
    assert check(record(visit(), wounds=wounds), checklist=EVERY) == []


def test_safety_comes_first_then_findings_by_wound_most_important_first_newest_note_first() -> None:
    wounds = [{"id": "W1"}, {"id": "W2"}]
    history = record(visit(entry("W2"), entry("W1")), visit(entry("W1")), wounds=wounds)
    found = check(history, checklist=EVERY)
    safety, *others = IMPORTANCE
    expected = [("W1", safety, "V2"), ("W1", safety, "V1"), ("W2", safety, "V1")]
    expected += [("W1", s, v) for s in others for v in ("V2", "V1")] + [("W2", s, "V1") for s in others]
    assert [(one.wound, one.severity, one.visit) for one in found] == expected


def test_what_is_about_no_wound_comes_last() -> None:
    header = a_rule("XY01", "required", always, "visit")
    found = check(record(visit()), checklist=checklist(header, a_rule("XX01", "recommended", always)))
    assert [(one.wound, one.visit) for one in found] == [("W1", "V1"), (None, "V1")]


@pytest.mark.parametrize("scope", ["record", "patient", "wound", "visit", "entry"])
def test_every_scope_is_visited_once(scope: str) -> None:
    found = check(record(visit(), visit()), checklist=checklist(a_rule("XX01", "sense", always, scope)))
    assert len(found) == {"record": 1, "patient": 1, "wound": 1, "visit": 2, "entry": 2}[scope]


def test_a_rule_is_asked_only_where_its_conditions_hold() -> None:
    burn = checklist(a_rule("XX01", "sense", always, "entry", ("burn",)))
    assert check(record(visit()), checklist=burn) == []
    assert len(check(record(visit(), wounds=[{"id": "W1", "kind": "burn"}]), checklist=burn)) == 1


@pytest.mark.parametrize(
    ("conditions", "words"),
    [
        ([("burn",)], "1 rule could not look"),
        ([("burn",), ("skin tear",)], "2 rules could not look"),
        ([("burn", "open wound"), ("always",)], "1 rule could not look"),
        ([("open wound",), ()], None),  # no condition asks for the kind
    ],
)
def test_a_rule_leans_on_a_word_that_its_conditions_asked_for(
    conditions: list[tuple[str, ...]], words: str | None
) -> None:
    """A kind that no list knows may be a burn: what is asked of burns alone could not be asked."""
    word_not_known = next(one for one in rules() if one.code == "WD01")
    quiet = [a_rule(f"XX0{n}", "sense", lambda view, policy: iter(()), "entry", c) for n, c in enumerate(conditions)]
    made = record(visit(), wounds=[{"id": "W1", "status": "open", "kind": "zebra"}])
    found = check(made, checklist=checklist(*quiet, word_not_known))
    assert [words is not None and words in one.message for one in found] == [True] * (words is not None)


def test_values_come_only_when_asked_for() -> None:
    assert {one.value for one in check(record(visit()), checklist=EVERY)} == {None}
    assert {one.value for one in check(record(visit()), checklist=EVERY, show_values=True)} == {"the value"}


def test_a_problem_may_bring_its_own_fix_and_source() -> None:
    def body(view: Any, policy: Any) -> Iterator[Problem]:
        yield Problem(view.path(), "one")
        yield Problem(view.path("care"), "two", source="a policy's number")

    first, second = check(record(visit()), checklist=checklist(a_rule("XX01", "sense", body)))
    assert (first.fix, first.source) == (PAGE.fix, PAGE.source)
    assert (second.fix, second.source) == ("do this", f"{PAGE.source}; a policy's number")


def test_leaving_a_rule_out_needs_a_known_code_and_a_reason_and_keeps_both() -> None:
    with pytest.raises(InputError, match="code of a rule"):
        check(demo(), ignore={"XX77": "a reason"})
    with pytest.raises(InputError, match="a reason"):
        check(demo(), ignore={"GAP-wound.onset": " "})
    verdict = judge(record(visit()), checklist=EVERY, ignore={"XX00": "our policy"})
    assert [(one.code, one.reason, len(one.findings)) for one in verdict.left_out] == [("XX00", "our policy", 1)]
    assert "XX00" not in {one.rule for one in verdict.findings}


def test_a_fault_in_a_rule_becomes_one_error_without_any_value() -> None:
    def body(view: Any, policy: Any) -> Iterator[Problem]:
        raise ValueError("Marker Name")
        yield

    with pytest.raises(RuleError) as error:
        check(record(visit()), checklist=checklist(a_rule("XX01", "sense", body)))
    assert str(error.value) == "rule XX01 failed at visits[0].wounds[0] (ValueError)"
    assert error.value.__cause__ is None and error.value.__suppress_context__


def test_a_label_is_an_id_only_where_that_is_plainly_no_name() -> None:
    for ident in ("W1", "V-12", "w.3", "7"):
        assert label(ident, 0, "wound") == ident
    for ident in ("Rowan", "heel1", "W1 Rowan", "1234567", "", "Rowan1"):
        assert label(ident, 4, "wound") == "wound 5"


def test_the_day_to_judge_on_reaches_the_rules() -> None:
    def body(view: Any, policy: Any) -> Iterator[Problem]:
        if view.record.today == date(2026, 5, 1):
            yield Problem(view.path(), "overdue")

    overdue = checklist(a_rule("XX01", "sense", body))
    assert check(record(visit()), checklist=overdue) == []
    assert len(check(record(visit()), checklist=overdue, today=date(2026, 5, 1))) == 1


def test_the_story_has_gaps_in_the_note_that_is_meant_to_have_some() -> None:
    found = [one for one in check(demo()) if one.level == "error"]
    assert {one.visit for one in found} == {"V5"} and len(found) >= 2


@pytest.mark.parametrize("kind", [Finding, Verdict, Rule, Page, Policy, Checklist, Condition])
def test_what_many_records_share_cannot_be_changed_by_one(kind: Any) -> None:
    """Rules, pages and policies are made once, and a verdict may be kept: nobody may write into them."""
    assert kind.__dataclass_params__.frozen


def signature(found: list[Finding]) -> list[tuple[str, str, str]]:
    return [(one.rule, one.path, one.message) for one in found]


@settings(max_examples=60)
@given(strategies.records(most_visits=3))
def test_any_record_is_judged_and_the_same_record_gives_the_same_findings(raw: Any) -> None:
    history = History.of(raw)
    before = history.json()
    first = check(history, show_values=True)
    assert history.json() == before, "rules may not change the record"
    assert signature(check(History.of(raw), show_values=True)) == signature(first)
    known = {rule.code for rule in rules()}
    for one in first:
        assert one.rule in known and one.message and one.fix and one.source
        assert one.path.partition("[")[0].partition(".")[0] in ("patient", "wounds", "visits", "zone", "extra", "")


@settings(max_examples=30)
@given(strategies.records(most_visits=3))
def test_the_order_in_which_timed_notes_are_written_does_not_matter_to_the_rules(raw: Any) -> None:
    """Metamorphic: notes whose times differ may stand in any order; the same rules find the same number of problems."""
    for number, one in enumerate(raw["visits"]):
        one["at"] = f"2026-03-{number + 1:02d}T10:00:00-05:00"
    one_way = sorted(found.rule for found in check(History.of(raw)))
    random.Random(7).shuffle(raw["visits"])
    assert sorted(found.rule for found in check(History.of(raw))) == one_way
