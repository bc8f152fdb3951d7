"""What came in another form: of a part that is kept whole, the reason that a person must look at is the one named."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from woundfhir.intake.traced import TracedLosses, _left, traced
from woundfhir.r4.origin import Fate, Leaf, Source

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


def patient(name: str, message: str) -> dict[str, Any]:
    return {"resourceType": "Patient", "id": name, "birthDate": Leaf("1948-03", ((message, "born"),))}


@pytest.mark.parametrize(("clients", "names"), [((), [""]), (("a",), [""]), (("a", "b"), [", client 1", ", client 2"])])
def test_what_is_nobodys_in_several_messages_is_a_part_of_its_own(clients: tuple[str, ...], names: list[str]) -> None:
    """In one document it is the client's whose document it is; of two messages nobody can tell whose a third is."""
    for more in (0, 1):
        source = Source(units={("m", "other"): lambda: "word for word"})
        for number, name in enumerate(clients):
            source.leaves[f"m{number}" if more or number else "m", "born"] = Fate("kept", "no place")
            source.add(patient(name, f"m{number}" if more or number else "m"))
        source.leaves["m", "other"] = Fate("kept", "no place")
        found = list(traced(source, "file", "v2"))
        apart = bool(clients) and (more > 0)
        assert [one.name for one in found] == [f"file{one}" for one in names] + ["file, what names no client"] * apart
        assert [one.of_client for one in found] == [True] * len(names) + [False] * apart
        holding = [one.name for one in found if "word for word" in one.history.json()]
        assert holding == [found[-1 if apart else 0].name]
