"""What came in another form: of a part that is kept whole, the reason that a person must look at is the one named."""

from __future__ import annotations

import itertools

import pytest

from woundfhir.intake.traced import TracedLosses, _left
from woundfhir.r4.origin import Fate, Source

FATES = [Fate("conflict", "two"), Fate("withdrawn", "gone"), Fate("kept", "no place"), Fate("understood", "")]


@pytest.mark.parametrize("some", [*itertools.permutations(FATES, 3)])
def test_the_gravest_reason_is_named(some: tuple[Fate, ...]) -> None:
    """In the order conflict, withdrawn, kept; what was understood is no reason to keep a part."""
    leaves = {("entry", str(number)): fate for number, fate in enumerate(some)}
    source = Source(leaves=leaves, units={("entry",): lambda: "word for word", ("other",): lambda: "nothing in it"})
    found = list(_left(source, TracedLosses(source=source, mine=frozenset(leaves), name="a document")))
    why = next(fate.why for fate in FATES if fate in some)
    assert found == [{"from": "entry", "why": why, "came": "word for word"}]


def test_of_two_equal_reasons_the_first_is_named() -> None:
    leaves = {("entry", "1"): Fate("kept", "first"), ("entry", "2"): Fate("kept", "second")}
    source = Source(leaves=leaves, units={("entry",): lambda: "x"})
    report = TracedLosses(source=source, mine=frozenset(leaves), name="a document")
    assert [one["why"] for one in _left(source, report)] == ["first"]


def test_what_was_understood_is_not_kept() -> None:
    leaves = {("entry", "1"): Fate("understood", ""), ("entry", "2"): Fate("reworded", ""), ("x",): Fate("kept", "y")}
    source = Source(leaves=leaves, units={("entry",): lambda: "x"})
    assert list(_left(source, TracedLosses(source=source, mine=frozenset(leaves), name="a document"))) == []
