"""A comparator says what is certain: held against every number that the words can mean."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from woundfhir.record.bounds import Amount

NUMBERS = st.integers(0, 30).map(lambda tenths: Decimal(tenths) / 10)
COMPARATORS = st.sampled_from([None, "<", "<=", ">", ">="])
#: Every number that could be meant, on a grid finer than the limits; arithmetic, no source.
GRID = [Decimal(twentieths) / 20 for twentieths in range(-20, 100)]
MEANS = {
    None: lambda number, value: number == value,
    "<": lambda number, value: number < value,
    "<=": lambda number, value: number <= value,
    ">": lambda number, value: number > value,
    ">=": lambda number, value: number >= value,
}


@given(NUMBERS, COMPARATORS, NUMBERS, NUMBERS)
def test_a_comparison_is_true_only_where_it_holds_for_every_number_that_is_meant(
    value: Decimal, comparator: str | None, limit: Decimal, other: Decimal
) -> None:
    meant = [number for number in GRID if MEANS[comparator](number, value)]
    amount, (low, high) = Amount(value, comparator), sorted((limit, other))
    assert amount.below(limit) == all(number < limit for number in meant)
    assert amount.at_most(limit) == all(number <= limit for number in meant)
    assert amount.above(limit) == all(number > limit for number in meant)
    assert amount.at_least(limit) == all(number >= limit for number in meant)
    # Two ways to lie outside are two certainties: no bound here spans both.
    assert amount.outside(low, high) == (
        all(number < low for number in meant) or all(number > high for number in meant)
    )
    assert amount.exact == (value if comparator is None else None)


@pytest.mark.parametrize(
    ("text", "limit", "below", "above"),
    [
        ("<0.5", "0.5", True, False),
        ("<3", "2", False, False),
        (">0.5", "0.5", False, True),
        ("<=0.5", "0.5", False, False),
    ],
)
def test_what_a_nurse_writes(text: str, limit: str, below: bool, above: bool) -> None:
    """Arithmetic."""
    comparator = text.rstrip("0123456789.")
    amount = Amount(Decimal(text.removeprefix(comparator)), comparator)
    assert (amount.below(Decimal(limit)), amount.above(Decimal(limit))) == (below, above)
