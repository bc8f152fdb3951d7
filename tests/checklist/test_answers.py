"""An answer belongs to its question: single changes as data (``answers.yaml``), and the law for every rule.

Common practice, no source: who was told and when is what a reader needs to rely on an action.
"""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from tests.checklist.casebook import Case, cases, load, merge, record
from woundfhir.checklist import Verdict, judge, rules
from woundfhir.checklist.actions import matters
from woundfhir.checklist.finding import Finding
from woundfhir.record import History

Json = Any
DATA = load(Path(__file__).parent / "answers.yaml")
START, PROMPTS, CHANGES = DATA["note"], set(DATA["prompts"]), DATA["changes"]
ACTION = {"done": "spoke with", "about": ["infection"], "told": ["physician"], "when": "2026-03-04T10:30:00-05:00"}
RULES = {one.code: one for one in rules()}
ANSWERABLE = sorted(code for code, one in RULES.items() if one.about)


def changed(change: Json) -> dict[str, Json]:
    """Return the record that one change makes of the note."""
    own = {key: value for key, value in change.items() if key in ("plan", "care", "note")}
    made = record(merge(START, own))
    this = made["visits"][-1]
    if "act" in change:
        this["wounds"][0].setdefault("plan", {})["escalation"] = [merge(ACTION, change["act"])]
    if "other" in change:
        made["wounds"].append({"id": "W2", "status": "open", "kind": "skin tear", "site": "forearm"})
        this["wounds"].append({"wound": "W2", "plan": {"escalation": [merge(ACTION, change["other"])]}})
    if "earlier" in change:
        made["visits"][0]["wounds"][0]["plan"]["escalation"] = [merge(ACTION, change["earlier"])]
    if "error" in change:
        wrong = copy.deepcopy(this) | {"id": "V9", "status": "entered in error"}
        wrong["wounds"][0]["plan"]["escalation"] = [merge(ACTION, change["error"])]
        made["visits"].append(wrong)
    return made


def on_the_wound(findings: tuple[Finding, ...]) -> set[str]:
    """Return the codes of the prompts about the wound of the newest note that an action may answer."""
    return {one.rule for one in findings if one.severity == "caution" and one.about and one.visit == "V2"} & PROMPTS


def test_an_answer_names_who_was_told_and_when_to_the_minute() -> None:
    verdict = judge(History.of(changed({"act": {"told": ["physician", "wound care nurse"]}})))
    assert verdict.answered
    for one in verdict.answered:
        assert one.answers == ((("physician", "wound care nurse"), "2026-03-04 10:30"),)


def test_the_note_asks_all_that_it_should() -> None:
    verdict = judge(History.of(changed({})))
    assert on_the_wound(verdict.findings) == PROMPTS and verdict.answered == ()
    assert len(CHANGES) >= 40


@pytest.mark.parametrize("change", CHANGES, ids=[one["says"] for one in CHANGES])
def test_a_change_answers_its_own_prompts_and_no_other(change: Json) -> None:
    verdict = judge(History.of(changed(change)))
    answered, gone = set(change.get("answers", ())), set(change.get("gone", ()))
    assert on_the_wound(verdict.answered) == answered
    assert on_the_wound(verdict.findings) == PROMPTS - answered - gone
    assert all(one.answers and one.level == "information" for one in verdict.answered)
    assert all("escalation: [" in one.to_answer for one in verdict.findings if one.about and one.visit == "V2")


def test_a_prompt_that_is_not_answered_says_what_the_action_lacks() -> None:
    def lacks(**act: Json) -> str:
        found = judge(History.of(changed({"act": act}))).findings
        return next(one.to_answer for one in found if one.rule == "FU06")

    assert lacks(told="~").startswith("The action does not name a role that is known here (told).")
    assert lacks(told=["nobody"]).startswith("The action says that nobody was told.")
    assert lacks(when="~").startswith("The action has no day (when).")
    assert lacks(when="2027-03-04").startswith("The day of the action lies after the note")
    assert lacks(about="~").startswith("The action does not say what it is about.")
    assert lacks(about=["pain"]).startswith("The action that is written is about something else.")
    assert "about: [infection]" in lacks(about=["pain"])


# -- every rule that can be answered --------------------------------------------------------------------------------


def _failing(code: str) -> list[Case]:
    return [case for case in cases() if case.rule == code and case.fails]


def _with_action(made: Json, about: list[str]) -> Verdict:
    """Judge a record in which every note says that an action about some matters was taken at its time."""
    told = copy.deepcopy(made)
    for visit in told["visits"]:
        for entry in visit["wounds"]:
            entry.setdefault("plan", {})["escalation"] = [{**ACTION, "about": about, "when": visit["at"]}]
    return judge(History.of(told))


@pytest.mark.parametrize("code", ANSWERABLE)
def test_an_action_about_any_other_matter_leaves_a_finding_as_it_is(code: str) -> None:
    """And one about its matters answers it."""
    for case in _failing(code):
        made = record(case.data)
        policy = case.data.get("policy", "ontario")
        if policy != "ontario" or "today" in case.data or "top" in case.data:
            continue
        plain = [one for one in judge(History.of(made)).findings if one.rule == code]
        own = {matters()[matter] for one in plain for matter in one.about}
        others = sorted({*matters().values(), "other"} - own)
        elsewhere = [one for one in _with_action(made, others).findings if one.rule == code]
        assert [(one.path, one.message) for one in elsewhere] == [(one.path, one.message) for one in plain], case.says
        if plain and all(one.about for one in plain):
            whole = _with_action(made, sorted(own))
            assert [one for one in whole.findings if one.rule == code] == [], case.says
            assert {one.rule for one in whole.answered} >= {code}, case.says
