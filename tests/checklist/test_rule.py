"""Rules: every one has its page, its code, its source with a mark; what is not written as a rule is refused."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest

from woundfhir.chart.conditions import CONDITIONS
from woundfhir.checklist import Problem, Rule, RuleError, check, rules
from woundfhir.checklist.pages import Page, common
from woundfhir.checklist.rule import GROUPS, PRESENCE, RETIRED, make, rule, successor
from woundfhir.errors import InputError
from woundfhir.record import History
from woundfhir.texts import TextError

PAGE = Page("A line.", "a", "b", "c", "d", "e (seen)", "seen", {"message": "f"})


def body(view: Any, policy: Any) -> Iterator[Problem]:
    yield from ()


@pytest.mark.parametrize("one", rules(), ids=lambda one: one.code)
def test_every_condition_of_a_rule_exists(one: Rule) -> None:
    assert set(one.when) <= CONDITIONS.keys()


def test_codes_and_names_are_used_once_and_no_retired_code_returns() -> None:
    assert [code for code, count in Counter(one.code for one in rules()).items() if count > 1] == []
    assert [name for name, count in Counter(one.name for one in rules()).items() if count > 1] == []
    assert not {one.code for one in rules()} & RETIRED.keys()


def test_rules_come_in_the_order_of_the_parts() -> None:
    order = [GROUPS.index(one.group) for one in rules()]
    assert order == sorted(order)


def test_a_safety_prompt_asks_and_defers() -> None:
    """A caution asks and cites, it never orders; local policy and licensed practice decide (a promise of ours)."""
    for one in rules():
        if one.severity == "caution":
            words = f"{one.page.title} {one.page.fix}".casefold()
            assert "must not" not in words and "do not" not in words and "diagnos" not in words, one.code


@pytest.mark.parametrize("code", ["", "X1", "XX1", "xx01", "XX001", "GAP-length", "SITE-", "SITE-a b"])
def test_a_code_of_another_form_is_refused(code: str) -> None:
    with pytest.raises(RuleError):
        make(code, "a-name", "sense", "entry", "sense", body, (), PAGE)


def test_a_code_that_is_taken_or_retired_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    taken = next(one for one in rules() if one.group != "presence")
    with pytest.raises(RuleError, match="is taken by"):
        rule(taken.code, "another-name", severity="sense", scope="entry", group="sense")(body)
    with pytest.raises(TextError, match="ZZ98"):
        rule("ZZ98", "another-name", severity="sense", scope="entry", group="sense")(body)
    monkeypatch.setitem(RETIRED, "ZZ99", "for this test")
    with pytest.raises(RuleError):
        make("ZZ99", "a-name", "sense", "entry", "sense", body, (), PAGE)


@pytest.mark.parametrize("wrong", [{"severity": "error"}, {"scope": "day"}, {"group": "other"}, {"name": "Two Words"}])
def test_unknown_parts_are_refused(wrong: dict[str, Any]) -> None:
    parts: dict[str, Any] = {"severity": "sense", "scope": "entry", "group": "sense", "name": "a-name", **wrong}
    with pytest.raises(RuleError):
        make("XX01", parts["name"], parts["severity"], parts["scope"], parts["group"], body, (), PAGE)


def test_every_retired_code_names_a_rule_of_today() -> None:
    """A site that wrote a code years ago is told which rule it is now."""
    known = {one.code for one in rules()}
    assert set(RETIRED.values()) <= known | {""}
    assert {successor(f"SN{number:02d}") for number in range(1, 29)} <= known
    gaps = {code for code in known if code.startswith(PRESENCE)}
    assert gaps and {successor("M-" + code.removeprefix(PRESENCE)) for code in gaps} == gaps
    assert all(successor(code) is None for code in known)


def test_leaving_a_retired_code_out_names_the_new_one() -> None:
    for old, now in (("SN05", "SE05"), ("SN28", "SE28"), ("M-wound.onset", "GAP-wound.onset")):
        with pytest.raises(InputError, match=f"use {now}"):
            check(History.of({"woundfhir": "1", "patient": {}}), ignore={old: "a reason"})


def test_the_part_of_the_checklist_stands_before_the_code() -> None:
    """Two letters mean nothing to a nurse; the part does."""
    found = check(History.of({"woundfhir": "1", "patient": {}, "wounds": [{"id": "W1"}]}))
    assert {one.reference for one in found} >= {"first assessment FA03", "charting GAP-wound.kind"}
    assert {one.part for one in rules()} == set(common("groups").values()) - {"site"}
    assert set(common("groups")) == set(GROUPS)
