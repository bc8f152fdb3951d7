"""The rules, by their cases: each says exactly what it should about a note, and the rest of the checklist is silent."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.checklist.casebook import FOLDER, Case, cases, findings, load, record
from woundfhir.checklist import Finding, check, rules
from woundfhir.checklist.pages import common
from woundfhir.errors import InputError
from woundfhir.record import History

CASES = list(cases())
DEFER = common("caution")["defer"]
WRITTEN = {one.code: one for one in rules() if not one.code.startswith(("GAP-", "SITE-"))}


def _name(case: Case) -> str:
    return f"{case.rule} {'finds' if case.fails else 'passes'}: {case.says}"


@pytest.mark.parametrize("case", CASES, ids=_name)
def test_a_changed_note_is_found_by_its_rule_and_by_no_other(case: Case) -> None:
    found = findings(case.data)
    assert sorted({one.rule for one in found}) == case.expected, [f"{one.rule} {one.path}" for one in found]
    if "at" in case.data:
        assert [one.path for one in found if one.rule == case.rule] == case.data["at"]
    for one in found:
        assert one.path == "" or one.path.startswith(("patient", "wounds[", "visits[", "extra[")), one
        if one.rule == case.rule:
            assert case.data.get("message", "") in one.message
            assert case.data.get("fix", "") in one.fix
            _is_short_and_says_what_to_write(one)


@pytest.mark.parametrize("name", load(FOLDER / "base.yaml"))
def test_a_complete_note_is_complete(name: str) -> None:
    assert [(one.rule, one.path) for one in findings({"base": name})] == []


def test_every_rule_has_a_note_that_fails_and_one_that_holds() -> None:
    had = defaultdict(set)
    for case in CASES:
        had[case.rule].add(case.fails)
    assert {code for code in WRITTEN if had[code] != {True, False}} == set()
    assert had.keys() <= WRITTEN.keys()


def _is_short_and_says_what_to_write(one: Finding) -> None:
    assert len(one.message) <= 110 and len(one.fix) <= 220, one
    assert not one.message.endswith("."), one
    assert one.fix.endswith((".", "?")), one
    if WRITTEN[one.rule].severity == "caution":
        # A safety prompt asks, cites, and leaves the decision where it belongs.
        assert "?" in one.message and one.fix.endswith(DEFER) and one.source, one


def test_a_safety_prompt_of_every_page_defers() -> None:
    cautions = {code: one.page.fix for code, one in WRITTEN.items() if one.severity == "caution"}
    assert [code for code, fix in cautions.items() if not fix.endswith(DEFER)] == []
    assert DEFER == "Local policy and the licensed practitioner decide."


# -- whatever stands in a note -------------------------------------------------------------------------------------

#: A word that is in no list and in no text of ours.
MARKER = "Zebravogel"
ODD = (MARKER, f"{MARKER} cm", "none", "4,1 cm", "-3 cm", "0", "99", {"absent": MARKER}, [MARKER], {MARKER: MARKER}, [])


def _leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        if isinstance(inner, (dict, list)):
            yield from _leaves(inner, (*path, key))
        if "visits" in (*path, key) or key in ("allergies", "conditions", "name", "kind", "site", "cause"):
            yield (*path, key)


STARTS = {name: record({"base": name}) for name in load(FOLDER / "base.yaml")}
PLACES = [(name, path) for name, made in STARTS.items() for path in _leaves(made)]


def _replaced(value: Any, path: tuple[Any, ...], new: Any) -> Any:
    if not path:
        return new
    keys = value.items() if isinstance(value, dict) else enumerate(value)
    made = {key: _replaced(inner, path[1:], new) if key == path[0] else inner for key, inner in keys}
    return made if isinstance(value, dict) else list(made.values())


@given(st.sampled_from(PLACES), st.sampled_from(ODD))
def test_no_answer_makes_a_rule_fail_or_is_repeated(place: tuple[str, Any], odd: Any) -> None:
    """Nothing of the client's stands in a message, a fix, a source or a path, wherever it was written."""
    name, path = place
    try:
        history = History.of(_replaced(STARTS[name], path, odd))
    except InputError:
        return
    for one in check(history):
        assert MARKER not in f"{one.message} {one.fix} {one.source} {one.path} {one.wound} {one.visit}", one.rule
