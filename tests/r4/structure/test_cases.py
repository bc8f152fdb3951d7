"""Good resources pass; each broken one is refused for the stated reason, and none of its words is told."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from tests.conformance import cases as of_the_engine
from tests.paths import hl7_examples
from tests.r4 import r4core
from tests.r4.structure.cases import BROKEN, GOOD, Case
from woundfhir.r4 import xmlio
from woundfhir.r4.structure import INVARIANTS, Issue, check_bundle, check_resource, check_resources

Json = Any
_KEYS = {"structure", "required", "value", "code-invalid", "reference-target", "not-found", "full-url", "document"}
#: What the broken set of tests/conformance holds and this check leaves to a validator with terminology and profiles.
_LEFT_TO_THE_ENGINE = {
    "a unit that UCUM does not have",
    "an extension that nobody defines",
    "a modifier extension that nobody defines",
    "a profile that nobody defines",
}


def _serious(issues: list[Issue]) -> list[Issue]:
    return [issue for issue in issues if issue.severity == "error"]


@pytest.mark.parametrize("name", GOOD)
def test_a_good_resource_passes_without_a_word(name: str) -> None:
    assert check_resource(GOOD[name]) == []


@pytest.mark.parametrize("case", BROKEN, ids=[case.name for case in BROKEN])
def test_a_broken_resource_is_refused_for_the_stated_reason(case: Case) -> None:
    """Source: beside each case in ``cases/broken.json``."""
    before = copy.deepcopy(case.resource)
    issues = check_resource(case.resource)
    assert (case.severity, case.key, case.path) in [(issue.severity, issue.key, issue.path) for issue in issues]
    assert case.resource == before
    for issue in issues:
        assert issue.expected and issue.found
        assert "HL7 FHIR R4 4.0.1" in issue.why


def test_the_broken_set_is_large_and_breaks_every_rule() -> None:
    assert len(BROKEN) >= 34
    assert len({case.name for case in BROKEN}) == len(BROKEN)
    assert {case.key for case in BROKEN} == set(INVARIANTS) | _KEYS


def test_the_broken_set_of_the_official_engine_is_refused_as_far_as_it_needs_no_terminology_or_profile() -> None:
    """Source: tests/conformance/cases, each case refused by HL7's validation engine for the reason stated there."""
    good = of_the_engine.good()
    assert [issue for resource in good.values() for issue in _serious(check_resource(resource))] == []
    cases = of_the_engine.raw("broken")
    assert len(cases) > 50
    passed = {
        case["name"] for case in cases if not check_resource(of_the_engine.patched(good[case["of"]], case["patch"]))
    }
    assert passed == _LEFT_TO_THE_ENGINE


def test_hl7s_wound_examples_have_no_errors() -> None:
    """Source: HL7 skin and wound assessment guide, examples of 2020-06-30."""
    for file in hl7_examples():
        assert _serious(check_resource(xmlio.decode(file.read_bytes()))) == [], file.name


def test_the_definitions_of_r4_have_no_errors_but_those_known() -> None:
    """Source: hl7.fhir.r4.core 4.0.1, every 25th resource. HL7's slip: some SearchParameters lack base (1..*)."""
    from woundfhir.r4 import jsonio

    checked = 0
    for number, (name, content) in enumerate(r4core.files()):
        if number % 25 == 0 and "/" not in name and "-" in name:
            issues = _serious(check_resource(jsonio.decode(content)))
            assert [i for i in issues if i.path != "SearchParameter.base"] == [], name
            checked += 1
    assert checked > 150


def test_a_value_is_reported_only_where_that_was_asked_for() -> None:
    broken = {**GOOD["depth"], "status": "Tremblay"}
    (quiet,) = check_resource(broken)
    (loud,) = check_resource(broken, show_values=True)
    assert "Tremblay" not in repr(quiet)
    assert "Tremblay" in loud.found
    assert quiet.found == "another code"
    assert "amended" in quiet.expected and "entered-in-error" in quiet.expected


def test_a_list_of_resources_is_looked_up_by_type_and_id() -> None:
    patient = {"resourceType": "Patient", "id": "p1", "text": GOOD["depth"]["text"]}
    wound = {**GOOD["problem"], "id": "w1"}
    assert check_resources([patient, wound, GOOD["depth"]]) == []
    missing = check_resources([patient, GOOD["depth"]])
    assert [(i.severity, i.key, i.path) for i in missing] == [
        ("warning", "not-found", "[1].Observation.focus[0].reference")
    ]
    wrong = check_resources([{**patient, "resourceType": "Group"}, wound])
    assert ("error", "required", "[0].Group.type") in [(i.severity, i.key, i.path) for i in wrong]


def test_what_is_no_resource_is_one_issue() -> None:
    assert [issue.key for issue in check_resource([])] == ["structure"]
    assert [issue.key for issue in check_resource({})] == ["required"]
    assert [issue.key for issue in check_bundle(GOOD["depth"])] == ["structure"]
    assert [(i.key, i.path) for i in check_resources([None])] == [("structure", "[0].resource")]


def test_nesting_without_end_is_reported() -> None:
    item: dict[str, Json] = {"linkId": "x"}
    for _ in range(150):
        item = {"linkId": "x", "item": [item]}
    answers = {**GOOD["answers"], "item": [item]}
    assert any("levels" in issue.expected for issue in check_resource(answers))
