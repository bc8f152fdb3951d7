"""Every shape x every consumer: each has both objects, each object has every part, and the parts agree."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from tests.strategies import answer
from woundfhir.catalogue import Concept, catalogue
from woundfhir.errors import WoundfhirError
from woundfhir.fhir import form_items
from woundfhir.fhir import shapes as fhir
from woundfhir.fhir.codecs import Reasons
from woundfhir.record import answers, shapes
from woundfhir.record.leaf import StructureError

_CONCEPTS = list(catalogue().concepts(fields=True))
_USED = sorted({concept.shape for concept in _CONCEPTS})
_NAMES = sorted({*_USED, *shapes.SHAPES, *fhir.SHAPES})
_VALUES = [n for n in _USED if n in fhir.SHAPES and fhir.SHAPES[n].spread in ("one", "each", "shares")]
_DEFS = {"leaf": answers.LEAF_SCHEMA, "absent": answers.ABSENT_SCHEMA}
#: R4, item-type: what a QuestionnaireResponse answers an item of each type with.
_ANSWERS = {
    "open-choice": {"valueCoding", "valueString"},
    "text": {"valueString"},
    "boolean": {"valueBoolean"},
    "quantity": {"valueQuantity"},
    "decimal": {"valueDecimal"},
    "integer": {"valueInteger"},
    "string": {"valueString"},
    "date": {"valueDate"},
    "dateTime": {"valueDateTime"},
    "time": {"valueTime"},
}


def of_shape(name: str) -> list[Concept]:
    return [concept for concept in _CONCEPTS if concept.shape == name]


def canonical(concept: Concept, value: Any) -> Any:
    return answers.canonical(concept, value, None, lambda path, found: None)


def validator(concept: Concept) -> Draft202012Validator:
    return Draft202012Validator({**answers.schema(concept), "$defs": _DEFS})


def good(concept: Concept) -> list[Any]:
    """Answers that fit: the shape's own examples; for a set of fields, each field with its first example."""
    if concept.fields:
        item = {key: good(field)[0] for key, field in concept.fields.items() if good(field)}
        return [[item] if concept.many else item]
    return list(shapes.shape_of(concept).examples(concept)) or ["words of a nurse"]


@pytest.mark.parametrize("name", _NAMES)
def test_a_shape_has_both_objects_and_is_used(name: str) -> None:
    assert name in shapes.SHAPES, f"the shape {name} has no object in woundfhir.record.shapes"
    assert name in fhir.SHAPES, f"the shape {name} has no object in woundfhir.fhir.shapes"
    assert name in _USED, f"no concept of the catalogue has the shape {name}"
    assert shapes.SHAPES[name].name == fhir.SHAPES[name].name == name


def test_a_concept_of_no_shape_is_named_and_not_a_bare_key_error() -> None:
    from dataclasses import replace

    lost = replace(catalogue().concept("assessment.length"), shape="hologram")
    for find in (shapes.shape_of, fhir.fhir_shape):
        with pytest.raises(WoundfhirError, match=r"assessment\.length: the shape 'hologram' has no object in"):
            find(lost)


@pytest.mark.parametrize("name", _USED)
def test_examples_fit_in_every_room_of_the_record(name: str) -> None:
    for concept in of_shape(name):
        shape = shapes.shape_of(concept)
        for value in good(concept):
            where = f"{name}, {concept.path}: {value!r}"
            assert concept.fields or canonical(concept, value) in (value, [value]), f"canonical form of {where}"
            assert validator(concept).is_valid(value), f"schema of {where}"
            assert shapes.words(concept, canonical(concept, value)), f"words of {where}"
            known = concept.answers is not None and concept.answers.find(value) if isinstance(value, str) else True
            if not known:
                assert shape.judge(concept, value) is None, f"judgement of {where}"


@pytest.mark.parametrize("name", _VALUES)
def test_examples_go_to_fhir_and_back(name: str) -> None:
    """FHIR R4: a value has one of the types that its profile allows, and an item is answered by its own type."""
    known = catalogue()
    reasons = Reasons(known.answers["absent_reason"])
    for concept in of_shape(name):
        shape = fhir.fhir_shape(concept)
        codec, item = shape.codec(concept, known, reasons), shape.item_type(concept)
        for value in good(concept):
            where = f"{name}, {concept.path}: {value!r}"
            key, said = codec.write(value)
            assert key.removeprefix("value").casefold() in {kind.casefold() for kind in shape.types}, f"type of {where}"
            assert codec.read({key: said}) == value, f"codec of {where}"
            made = shape.write_item(concept, codec, known, value)
            if made is None:  # it stands in words beside the item
                assert form_items.WORDS in form_items.beside(concept), f"form item of {where} says nothing"
                continue
            assert set(made) <= _ANSWERS[item], f"form item of {where}"
            assert shape.read_item(concept, codec, known, made) == value, f"form item of {where}"


@pytest.mark.parametrize("name", _USED)
@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_the_canonical_form_is_its_own_canonical_form(name: str, data: st.DataObject) -> None:
    concept = data.draw(st.sampled_from(of_shape(name)))
    once = canonical(concept, data.draw(answer(concept)))
    assert canonical(concept, once) == once
    if once is not None:
        assert validator(concept).is_valid(once)
        assert shapes.words(concept, once)


_scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 5),
    st.sampled_from([Decimal("1e999999999"), Decimal("4.10"), 10**50]),
    st.sampled_from(["a", "2 cm", "", "none", "\x00", "2026-02-30", " 3 o'clock"]),
)
_junk = st.recursive(
    _scalars,
    lambda inner: st.one_of(
        st.lists(inner, max_size=2),
        st.dictionaries(st.sampled_from(["absent", "none", "note", "slough", "depth"]), inner, max_size=2),
    ),
    max_leaves=5,
)


@pytest.mark.parametrize("name", _USED)
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_the_schema_accepts_exactly_what_the_canonical_form_accepts(name: str, data: st.DataObject) -> None:
    concept, value = data.draw(st.sampled_from(of_shape(name))), data.draw(_junk)
    unknown: list[str] = []
    valid = validator(concept).is_valid(value)
    try:
        answers.canonical(concept, value, None, lambda path, found: unknown.append(path))
    except StructureError:
        assert not valid
    else:
        assert valid or unknown  # A key that is not known is kept by the record, and refused by the schema.
