"""Which leaves of a value say that it was read, and under which name of value[x] it is read.

R4: Observation.value[x] is named by its type; a CodeableConcept means what its codings mean, or else its text; an
extension is known by its url. What of a leaf is not used is said to be left: a promise of ours.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from tests.intake.foreign.inputs import cm, coded
from woundfhir.fhir.terms import terms
from woundfhir.intake.shaped import Shaped, _add, _chosen, _member, _merge, _place
from woundfhir.maps.fhirpath import Node

Json = Any
AT_VALUE = ("valueCodeableConcept",)
TERMS = terms().groups
EXUDATE, ONSET, LENGTH = TERMS["assessment"]["exudate_amount"], TERMS["wound"]["onset"], TERMS["assessment"]["length"]
WORDS = next(one for one in TERMS["assessment"].values() if one.concept.shape == "text")


def taken(value: Json, at: Any = AT_VALUE, term: Any = EXUDATE, mapped: Any = ()) -> list[str]:
    source: Any = SimpleNamespace(mapped=lambda resource: {(*at, *one): "" for one in mapped})
    shaped: Any = SimpleNamespace(source=source)
    found = Shaped._taken(shaped, {}, term, Node(at, value))
    return [".".join(map(str, path[len(at) :])) or "it" for path in found]


CODING = {"system": "urn:x", "code": "1", "display": "Odd"}
KNOWN = next({"system": key[0], "code": key[1]} for key in EXUDATE.codec.answers.by_code)  # type: ignore[attr-defined]
LEAVES: dict[str, tuple[Json, dict[str, Any], list[str]]] = {
    "a text": ("4 cm", {}, ["it"]),
    "what is computed": ("4 cm", {"at": ()}, []),
    "a reference": ({"reference": "Practitioner/n", "display": "Ann"}, {}, ["reference"]),
    "a quantity": (cm(4), {}, ["value", "unit"]),
    "a quantity without a unit in words": ({"value": 4, "system": "s", "code": "cm"}, {}, ["value", "code"]),
    "a quantity with a bound": ({"value": 4, "comparator": "<", "unit": "cm"}, {}, ["value", "comparator", "unit"]),
    "a quantity without a unit": ({"value": 4}, {}, ["value"]),
    "a code that is known": ({"coding": [KNOWN], "text": "x"}, {}, ["coding.0.system", "coding.0.code"]),
    "the second code is known": ({"coding": [CODING, KNOWN]}, {}, ["coding.1.system", "coding.1.code"]),
    "a code that a map knows": (
        {"coding": [CODING, CODING], "text": "x"},
        {"mapped": [("coding", 1)]},
        ["coding.1.system", "coding.1.code"],
    ),
    "a code that nobody knows, and words": ({"coding": [CODING], "text": "x"}, {}, ["text"]),
    "a code that nobody knows": ({"coding": [CODING, CODING]}, {}, ["coding.0.display"]),
    "words alone": ({"text": "x"}, {}, ["text"]),
    "no code and no words": ({"coding": []}, {}, []),
    "a coding that is known": (KNOWN, {}, ["system", "code"]),
    "a coding that nobody knows": (CODING, {}, ["display"]),
    "a coding of what has no list": (KNOWN, {"term": LENGTH}, ["display"]),
    "a coding of nothing": (KNOWN, {"term": None}, ["display"]),
}


@pytest.mark.parametrize("name", LEAVES)
def test_the_leaves_by_which_a_value_was_read(name: str) -> None:
    value, more, expected = LEAVES[name]
    assert taken(value, **more) == expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ({"url": "u", "valueString": "x"}, ["url"]),
        ({"system": "s", "code": "c", "display": "d"}, ["system", "code"]),
        ({"code": "c"}, []),
        ({"code": coded("1", system="s")}, ["code.coding.0.system", "code.coding.0.code"]),
        ({"code": {"coding": [CODING, CODING]}}, []),
        ({"code": {"text": "x"}}, []),
        ({"url": "u", "code": coded("1", system="s")}, ["url", "code.coding.0.system", "code.coding.0.code"]),
        ({"system": "s", "code": 5}, []),
        ("x", []),
    ],
)
def test_the_leaves_by_which_a_part_was_chosen(value: Json, expected: list[str]) -> None:
    found = [".".join(map(str, path[1:])) for path in _chosen(Node(("part",), value))]
    assert found == expected


@pytest.mark.parametrize(
    ("term", "value", "name"),
    [
        (EXUDATE, True, "valueBoolean"),
        (EXUDATE, cm(4), "valueQuantity"),
        (EXUDATE, {"text": "x"}, "valueCodeableConcept"),
        (EXUDATE, 4, "valueInteger"),
        (EXUDATE, "2026-03", "valueString"),
        (WORDS, "2026-03", "valueString"),
        (ONSET, "2026-03", "valueDateTime"),
        (ONSET, "in March", "valueString"),
    ],
)
def test_a_value_is_read_under_the_name_of_its_type(term: Any, value: Json, name: str) -> None:
    assert _member(term, value) == name


def test_nothing_is_said_twice_and_nothing_is_written_over() -> None:
    items: list[Json] = []
    assert _add(items, {"a": 1}) and _add(items, {"a": 1}) and _add(items, {"a": 2})
    assert items == [{"a": 1}, {"a": 2}]
    assert not _add({"absent": "unknown"}, {"a": 1})
    answers: Json = {}
    assert _merge(answers, "k", {"a": "1"}) and _merge(answers, "k", {"a": "1"})
    assert not _merge(answers, "k", {"a": "2"}) and answers == {"k": {"a": "1"}}
    assert _place({}) == _place({"value": []})
    assert _place({"value": [Node(("a", 0, "b"), 1)]}) == "a[0].b"
