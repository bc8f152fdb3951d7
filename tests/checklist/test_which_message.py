"""A rule that has several messages gives the one that fits; an answer in free words that is none is known from one."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checklist.casebook import cases, findings, merge
from woundfhir.checklist.action_words import refused

FIRST = {one.rule: one.data for one in cases() if one.fails and one.rule in ("DR19", "SE17")}


def message(rule: str, **change: Any) -> tuple[str, str]:
    (found,) = [one for one in findings(merge(FIRST[rule], change)) if one.rule == rule]
    return found.message, found.fix


def test_fibre_that_did_not_all_come_out_is_asked_about_as_such() -> None:
    assert "not written" in message("DR19", care={"removed": {"all_out": "~"}})[0]
    assert message("DR19", care={"removed": {"all_out": "no"}})[0].startswith("Not all of the alginate")


@pytest.mark.parametrize(("place", "near"), [("lenght", "length"), ("zebra", None)])
def test_a_key_that_is_not_known_names_the_one_that_it_may_be(place: str, near: str | None) -> None:
    extra = [{"from": "record", "why": "no such key", "place": f"visits[0].wounds[0].assessment.{place}", "value": "1"}]
    fix = message("SE17", extra=extra)[1]
    assert ("Did you mean" in fix) == (near is not None) and (near or "") in fix


@pytest.mark.parametrize(
    "text", ["none", "None", "N/A", "nothing.", "Monitor", "will observe", "keep an eye on it", "-"]
)
def test_waiting_is_no_action(text: str) -> None:
    assert refused(text) and refused(f"  {text.upper()} ")


@pytest.mark.parametrize("text", ["called the physician", "swab sent", "dressing changed and client taught"])
def test_what_was_done_is_an_action(text: str) -> None:
    assert not refused(text)
