"""What came in another form: of a part that is kept whole, the reason that a person must look at is the one named."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from tests.intake.foreign.inputs import LOINC
from woundfhir.fhir.fates import Taken
from woundfhir.fhir.losses import Loss
from woundfhir.intake.traced import TracedLosses, _left, traced
from woundfhir.r4.origin import Fate, Leaf, Source, tagged

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


KEPT, FORM, GONE = Fate("kept", "no place"), Fate("bookkeeping", "form"), Fate("withdrawn", "gone")
#: Place of a value -> its fate in the source, and in the end.
VALUES: dict[tuple[str, ...], tuple[Fate, Fate]] = {
    ("m", "entry", "value"): (KEPT, GONE),
    ("m", "entry", "beside it"): (KEPT, GONE),
    ("m", "entry", "form"): (FORM, FORM),
    ("m", "entry", "left out"): (Fate("not-understood", "odd"), Fate("not-understood", "odd")),
    ("m", "entry", "inner", "value"): (KEPT, Fate("understood", "")),
    ("m", "entry", "inner", "beside it"): (KEPT, KEPT),
    ("m", "entry", "again"): (KEPT, Fate("understood", "")),
    ("m", "entry", "known"): (KEPT, Fate("conflict", "two")),
    ("m", "other"): (KEPT, KEPT),
}


@pytest.mark.parametrize("others", [frozenset(), frozenset((("x", "other"),))])
def test_the_fate_of_a_value_is_that_of_what_was_made_of_it_or_of_the_part_around_it(others: frozenset[Any]) -> None:
    """What was not made into anything shares the fate of its part, where a person must look at that."""
    gone = Taken("Observation/l", {"note": "x", "status": "y"}, all_of=GONE)
    said = Taken("Observation/k", {"note": "x", "valueString": "y"}, all_of=("understood", ""))
    source = Source(
        leaves={at: fate for at, (fate, _) in VALUES.items()} | dict.fromkeys((("x", "other"), ("y", "other")), KEPT),
        spans={("m", "entry"): "Observation/l", ("m", "entry", "inner"): "Observation/k"},
        traces={
            "Observation/l": {("note",): (("m", "entry", "value"),), ("status",): (("m", "entry", "again"),)},
            "Observation/k": {
                ("note",): (("m", "entry", "inner", "value"),),
                ("valueString",): (("m", "entry", "again"),),
            },
        },
        reported={("m", "entry", "known"): Fate("conflict", "two"), ("y", "other"): GONE},
    )
    for taken in ((gone, said), (said, gone)):
        report = TracedLosses(taken=taken, source=source, mine=frozenset(VALUES) | others, name="a document")
        assert report.fates == {at: fate for at, (_, fate) in VALUES.items()} | dict.fromkeys(others, KEPT)
        more = TracedLosses(taken=taken, source=source, mine=others, name="a document", more=(Loss("p", "s", "w"),))
        assert [one.path for one in more.all] == ["p", *("a document" for _ in others)]


def test_a_line_of_a_report_names_the_places_of_the_source() -> None:
    made = {"resourceType": "Observation", "id": "l", "status": "final", "code": {"text": "odd"}, "valueString": "x"}
    for inferred in ([], ["a zone was taken"]):
        source = Source(leaves={("m", "a"): KEPT}, spans={("m", "a"): "Observation"}, notices=["a note"])
        source.inferred += inferred
        source.add(tagged({**made, "code": {"coding": [{"system": LOINC, "code": "39126-8"}]}}, (("m", "a"),)))
        (one,) = traced(source, "file", "v2")
        assert one.report is not None and one.kind == "v2" and one.report.notices == ("a note",)
        assert any(line.startswith("ma: names no wound") for line in one.report.inferred)
        assert one.report.inferred[len(one.report.inferred) - len(inferred) :] == tuple(inferred)
