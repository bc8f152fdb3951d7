"""What differs, in words."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.strategies import records
from woundfhir.handover.compare import compare, same
from woundfhir.record import History


def said_of(a: dict[str, Any], b: dict[str, Any], *, values: bool = True) -> list[str]:
    base = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}]}
    visits = ([{"id": "V6", "wounds": [{"wound": "W1", **side}]}] for side in (a, b))
    return [one.line(show_values=values) for one in compare(*(History.of({**base, "visits": one}) for one in visits))]


CASES = [
    (
        {"assessment": {"length": "4.10 cm"}},
        {"assessment": {"length": "3.9 cm"}},
        ["W1, visit V6: length 4.10 cm in A, 3.9 cm in B"],
        ["W1, visit V6: length differs"],
    ),
    (
        {"assessment": {"odour": "none"}},
        {},
        ["only in A: W1, visit V6: odour (none)"],
        ["only in A: W1, visit V6: odour"],
    ),
    (
        {"assessment": {"length": "4.1 cm"}},
        {"assessment": {"length": "4.10 cm"}},
        ["W1, visit V6: length 4.1 cm in A, 4.10 cm in B (the same, written differently)"],
        ["W1, visit V6: length is the same, written differently"],
    ),
    (
        {"supplies": [{"item": "gauze", "quantity": "2"}]},
        {"supplies": [{"item": "gauze", "quantity": "3"}]},
        ["W1, visit V6: supplies (1), quantity 2 in A, 3 in B"],
        ["W1, visit V6: supplies (1), quantity differs"],
    ),
    ({"note": "a"}, {"note": "b"}, ["W1, visit V6: note a in A, b in B"], ["W1, visit V6: note differs"]),
]


@pytest.mark.parametrize(("a", "b", "with_values", "without"), CASES)
def test_the_words(a: Any, b: Any, with_values: list[str], without: list[str]) -> None:
    assert said_of(a, b) == with_values
    assert said_of(a, b, values=False) == without


def test_groups_are_compared_field_by_field() -> None:
    pair = ({"assessment": {"undermining": [{"from": "2", "to": "6", "depth": depth}]}} for depth in ("3 cm", "2 cm"))
    assert said_of(*pair) == ["W1, visit V6: undermining (1), depth 3 cm in A, 2 cm in B"]


def test_two_of_a_thing_are_not_one() -> None:
    item = {"item": "gauze"}
    said = said_of({"supplies": [item, item]}, {"supplies": [item]})
    assert said == ["only in A: W1, visit V6: supplies (2) (item gauze)"]


def test_what_stands_on_one_side_alone() -> None:
    a = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [{"id": "V7"}], "strange": "x"}
    b = {"woundfhir": 1, "patient": {"born": "1948"}, "wounds": [{"id": "W1"}, {"id": "W2"}], "visits": [{"id": "V8"}]}
    assert [one.line() for one in compare(History.of(a), History.of(b))] == [
        "only in B: the client: date of birth",
        "only in B: W2",
        "only in A: visit V7",
        "only in B: visit V8",
        "only in A: kept as received: extra[0]",
    ]


@settings(max_examples=60)
@given(records(), records())
def test_something_differs_where_the_records_do_and_both_ways(a: dict[str, Any], b: dict[str, Any]) -> None:
    one, two = History.of(a), History.of(b)
    assert compare(one, one) == []
    there, back = compare(one, two), compare(two, one)
    assert bool(there) == (one.data != two.data)
    turn = {"only in A": "only in B", "only in B": "only in A"}
    assert sorted((d.path, turn.get(d.kind, d.kind)) for d in there) == sorted((d.path, d.kind) for d in back)


@given(st.decimals(-99, 99, places=2), st.integers(0, 3))
def test_a_number_is_the_same_with_more_zeros(number: Decimal, noughts: int) -> None:
    """Decimal of the standard library says which numbers are equal; R4 keeps the noughts as precision, not as value."""
    text = format(abs(number), "f")
    assert same(f"{text} cm", f"{text}{'0' * noughts} cm")
    assert not same(f"{text} cm", f"{text} mm")
