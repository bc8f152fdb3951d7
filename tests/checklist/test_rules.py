"""The rules, by their cases: each says exactly what it should about a note, and the rest of the checklist is silent."""

from __future__ import annotations

from collections import defaultdict

import pytest

from tests.checklist.casebook import FOLDER, Case, cases, findings, load
from woundfhir.checklist import rules
from woundfhir.checklist.rules.helpers import DEFER

CASES = list(cases())
WRITTEN = {one.code: one for one in rules() if not one.code.startswith(("M-", "SITE-"))}


def _name(case: Case) -> str:
    return f"{case.rule} {'finds' if case.fails else 'passes'}: {case.says}"


@pytest.mark.parametrize("case", CASES, ids=_name)
def test_a_changed_note_is_found_by_its_rule_and_by_no_other(case: Case) -> None:
    found = findings(case.data)
    assert sorted({one.rule for one in found}) == case.expected, [f"{one.rule} {one.path}" for one in found]


@pytest.mark.parametrize("name", load(FOLDER / "base.yaml"))
def test_a_complete_note_is_complete(name: str) -> None:
    assert [(one.rule, one.path) for one in findings({"base": name})] == []


def test_every_rule_has_a_note_that_fails_and_one_that_holds() -> None:
    had = defaultdict(set)
    for case in CASES:
        had[case.rule].add(case.fails)
    assert {code for code in WRITTEN if had[code] != {True, False}} == set()
    assert had.keys() <= WRITTEN.keys()


@pytest.mark.parametrize("case", [case for case in CASES if case.fails], ids=_name)
def test_what_a_rule_says_is_short_and_says_what_to_write(case: Case) -> None:
    severity = WRITTEN[case.rule].severity
    for one in findings(case.data):
        if one.rule != case.rule:
            continue
        assert len(one.message) <= 110 and len(one.fix) <= 220, one
        assert not one.message.endswith("."), one
        assert one.fix.endswith((".", "?")), one
        if severity == "caution":
            # A safety prompt asks, cites, and leaves the decision where it belongs.
            assert "?" in one.message and one.fix.endswith(DEFER) and one.source, one


@pytest.mark.parametrize("case", [case for case in CASES if case.fails], ids=_name)
def test_a_finding_shows_a_place_in_the_record(case: Case) -> None:
    for one in findings(case.data):
        assert one.path == "" or one.path.startswith(("patient", "wounds[", "visits[", "extra[")), one


def test_a_safety_prompt_of_every_page_defers() -> None:
    cautions = {code: one.page.fix for code, one in WRITTEN.items() if one.severity == "caution"}
    assert [code for code, fix in cautions.items() if not fix.endswith(DEFER)] == []
    assert DEFER == "Local policy and the licensed practitioner decide."
