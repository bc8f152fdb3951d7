"""For any resource, however mangled: an answer and no exception, the input as it was, and none of its words told."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.r4.resources import resources
from tests.r4.structure.cases import GOOD
from woundfhir.r4.structure import check_bundle, check_resource, check_resources

Json = Any
SECRET = "Tremblay"  # an invented name

_leaf = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 2**40),
    st.decimals(allow_nan=True),
    st.sampled_from(
        ["", "#", "#tape", SECRET, "Patient/" + SECRET, f"<div>{SECRET}", "urn:uuid:" + SECRET, "2026-02-30"]
    ),
)
_anything = st.recursive(
    _leaf,
    lambda inner: st.one_of(
        st.lists(inner, max_size=2),
        st.dictionaries(
            st.sampled_from(["resourceType", "id", "coding", "reference", "value", "entry", "x"]), inner, max_size=3
        ),
    ),
    max_leaves=5,
)


def _places(value: Json) -> Iterator[tuple[Json, Json]]:
    """Yield holder and key of everything in a resource."""
    for key in value if isinstance(value, dict) else range(len(value)):
        yield value, key
        if isinstance(value[key], dict | list):
            yield from _places(value[key])


@st.composite
def mangled(draw: st.DrawFn) -> dict[str, Json]:
    """A good resource with up to three places replaced by anything, or left out."""
    made = copy.deepcopy(GOOD[draw(st.sampled_from(sorted(GOOD)))])
    for _ in range(draw(st.integers(1, 3))):
        holder, key = draw(st.sampled_from(list(_places(made)) or [(made, "id")]))
        if draw(st.booleans()):
            holder[key] = draw(_anything)
        else:
            del holder[key]
    return made


@settings(max_examples=250)
@given(mangled())
def test_a_mangled_resource_gets_an_answer_that_tells_none_of_its_words(resource: dict[str, Json]) -> None:
    before = copy.deepcopy(resource)
    for issues in (check_resource(resource), check_resources([resource]), check_bundle(resource)):
        assert SECRET not in repr(issues)
    assert _same(resource, before)


@settings(max_examples=60)
@given(_anything)
def test_anything_at_all_gets_an_answer(value: Json) -> None:
    assert SECRET not in repr([check_resource(value), check_bundle(value), check_resources([value])])


@settings(max_examples=100)
@given(resources(2))
def test_a_resource_made_from_the_definitions_breaks_no_rule_of_form(resource: dict[str, Json]) -> None:
    """What is drawn is of the right kinds, but lacks required elements and is free in its texts and codes."""
    found = {issue.expected for issue in check_resource(resource) if issue.key == "structure"}
    assert found <= {"one of the choice"}


@settings(max_examples=40)
@given(mangled())
def test_the_same_resource_gets_the_same_answer(resource: dict[str, Json]) -> None:
    assert check_resource(resource) == check_resource(copy.deepcopy(resource))


def _same(one: Json, other: Json) -> bool:
    """Equal, NaN included, and of the same types."""
    if type(one) is not type(other):
        return False
    if isinstance(one, dict):
        return list(one) == list(other) and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(_same, one, other))
    return one.as_tuple() == other.as_tuple() if isinstance(one, Decimal) else bool(one == other)
