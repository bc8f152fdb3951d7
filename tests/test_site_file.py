"""Files that a site writes: a misspelt key names the nearest, and no message repeats what stands in the file."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from woundfhir.checklist.policy import PolicyFile, PolicyNumber
from woundfhir.checklist.policy import parse as parse_policy
from woundfhir.checklist.site import ChecklistFile, RuleEntry
from woundfhir.checklist.site import parse as parse_checklist
from woundfhir.errors import InputError
from woundfhir.site_file import checked

MARKER = "Marker-Tremblay"
FOLDER = files("woundfhir.checklist")
CHECKLIST = (FOLDER / "checklists" / "example.toml").read_text("utf-8")
POLICY = (FOLDER / "policies" / "example.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("text", "parse", "place", "fix"),
    [
        (CHECKLIST.replace("severity =", "servity =", 1), parse_checklist, "rule 1.servity", "Did you mean severity?"),
        (CHECKLIST.replace("transfer =", "trasfer =", 1), parse_checklist, "trasfer", "Did you mean transfer?"),
        (POLICY.replace("extends =", "extend =", 1), parse_policy, "extend", "Did you mean extends?"),
        (
            POLICY.replace("late_hours", "late_hour", 1),
            parse_policy,
            "header.late_hour",
            "Did you mean header.late_hours?",
        ),
        (POLICY.replace("source =", "sources =", 1), parse_policy, "header.late_hours.sources", "Did you mean source?"),
    ],
)
def test_a_misspelt_key_names_the_nearest(text: str, parse: Any, place: str, fix: str) -> None:
    with pytest.raises(InputError) as error:
        parse(text, "ours.toml")
    assert (error.value.where.removeprefix("ours.toml, "), error.value.fix) == (place, fix)


junk = st.recursive(
    st.sampled_from([MARKER, 3, True, 2.5, "", None]),
    lambda inner: (
        st.lists(inner, max_size=2) | st.dictionaries(st.sampled_from(["then", "value", "x"]), inner, max_size=2)
    ),
    max_leaves=4,
)


@given(st.sampled_from(sorted(RuleEntry.model_fields)), junk)
def test_no_value_of_a_checklist_stands_in_a_message(key: str, value: Any) -> None:
    raw = tomllib.loads(CHECKLIST)
    raw["rule"][0][key] = value
    try:
        made = checked(raw, ChecklistFile, "ours.toml").rule[0]
    except InputError as error:
        assert MARKER not in str(error) and f"rule 1.{key}" in error.where and error.expected and error.fix
    else:
        assert getattr(made, key) == value


@given(st.sampled_from(sorted(PolicyNumber.model_fields)), junk)
def test_no_value_of_a_policy_stands_in_a_message(key: str, value: Any) -> None:
    raw = {**tomllib.loads(POLICY)["header"]["late_hours"], key: value}
    try:
        checked(raw, PolicyNumber, "ours.toml", "header.late_hours")
    except InputError as error:
        assert MARKER not in str(error) and error.where == f"ours.toml, header.late_hours.{key}"
    else:
        assert isinstance(value, str) or value is None


@pytest.mark.parametrize("model", [RuleEntry, ChecklistFile, PolicyNumber, PolicyFile])
def test_every_key_says_what_it_is_for(model: Any) -> None:
    assert [name for name, field in model.model_fields.items() if not field.description] == []
