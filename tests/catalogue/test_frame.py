"""The record's frame is data: each key once, with its words for a reader, and a misspelt entry stops the load."""

from __future__ import annotations

import copy
import tomllib
from importlib.resources import files
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from woundfhir.catalogue import ENTRY_GROUPS, ENTRY_LISTS, CatalogueError, catalogue, frame
from woundfhir.catalogue.frame import SHAPES as KNOWN
from woundfhir.catalogue.frame import read_frame
from woundfhir.checklist.finding import safe_path
from woundfhir.errors import InputError
from woundfhir.record import History
from woundfhir.record.canonical import canonical
from woundfhir.record.frame import SHAPES
from woundfhir.record.schema import record_schema

RAW = tomllib.loads((files("woundfhir.catalogue") / "data" / "frame.toml").read_text("utf-8"))
#: Something canonical for each shape that holds no other part.
SAMPLE: dict[str, Any] = {
    "text": "as she said",
    "id": "X1",
    "zone": "America/Toronto",
    "date": "2026-03-02T10:05:00-05:00",
    "texts": ["Ann", "Bea"],
    "known texts": ["asthma"],
    "version": 1,
}


def test_every_shape_of_the_frame_has_an_object_and_is_used() -> None:
    assert {key.shape for part in frame().parts.values() for key in part.keys.values()} == SHAPES.keys() == KNOWN.keys()


def test_every_key_has_a_label_and_a_question_of_its_own() -> None:
    for part in frame().parts.values():
        assert part.title and part.says.endswith(".")
        for key in part.keys.values():
            assert key.label and key.question.endswith("?"), key.path
        assert len({key.question for key in part.keys.values()}) == len(part.keys), part.name


def test_no_key_of_a_part_is_also_a_concept_that_stands_beside_it() -> None:
    for part in frame().parts.values():
        inline = [key.of for key in part.keys.values() if key.shape == "inline answers"]
        own = {name for name, key in part.keys.items() if key.shape != "inline answers"}
        assert [name for group in inline for name in catalogue().groups[group] if name in own] == []


def filled(name: str) -> dict[str, Any]:
    """A part with every key filled."""
    out: dict[str, Any] = {}
    for key in frame().parts[name].keys.values():
        if key.of and KNOWN[key.shape] == "part":
            inner = filled(key.of)
            out[key.key] = inner if key.shape == "part" else [inner]
        elif not key.of:
            out[key.key] = key.words[0] if key.words else SAMPLE[key.shape]
    return out


def test_every_key_is_canonical_in_the_schema_and_safe_to_name() -> None:
    raw = filled("record")
    raw["visits"][0]["replaces"] = "V2"
    assert canonical(copy.deepcopy(raw)) == raw
    assert Draft202012Validator(record_schema()).is_valid(raw)
    for key in frame().every_key():
        assert safe_path(key.key) == key.key


def test_an_entry_holds_the_groups_and_lists_that_the_code_names() -> None:
    keys = frame().parts["entry"].keys
    assert tuple(name for name, key in keys.items() if key.shape == "answers") == ENTRY_GROUPS
    assert {name: key.of for name, key in keys.items() if key.shape == "item answers"} == ENTRY_LISTS


def test_the_schema_is_valid_draft_2020_12_and_every_key_of_it_has_its_question() -> None:
    """JSON Schema draft 2020-12, core and validation: the metaschema, through jsonschema."""
    Draft202012Validator.check_schema(record_schema())
    patient = record_schema()["properties"]["patient"]
    assert patient["properties"]["born"]["description"] == frame().parts["patient"].keys["born"].question


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"label": "X"}, "no question, shape"),
        ({"label": "X", "question": "X?", "shape": "txt"}, "unknown shape"),
        ({"label": "X", "question": "X?", "shape": "text", "colour": 1}, "unknown keys"),
        ({"label": "X", "question": "X?", "shape": "word"}, "words"),
        ({"label": "X", "question": "X?", "shape": "date", "words": ["a"]}, "words"),
        ({"label": "X", "question": "X?", "shape": "part", "of": "nurse"}, "no part 'nurse'"),
        ({"label": "X", "question": "X?", "shape": "answers", "of": "nurse"}, "no group 'nurse'"),
        ({"label": "X", "question": "X?", "shape": "text", "of": "author"}, "no need for 'author'"),
    ],
)
def test_a_misspelt_entry_stops_the_load(change: dict[str, Any], expected: str) -> None:
    raw = copy.deepcopy(RAW)
    raw["visit"]["keys"]["x"] = change
    with pytest.raises(CatalogueError, match=expected):
        read_frame(raw)


def test_a_part_that_nothing_holds_and_a_bare_key_that_is_none_stop_the_load() -> None:
    raw = copy.deepcopy(RAW)
    raw["nurse"] = {"title": "Nurse", "says": "A nurse.", "keys": {}}
    with pytest.raises(CatalogueError, match="nothing holds nurse"):
        read_frame(raw)
    raw = copy.deepcopy(RAW)
    raw["author"]["bare"] = "nam"
    with pytest.raises(CatalogueError, match="bare names no key"):
        read_frame(raw)


@pytest.mark.parametrize(("place", "words"), [("wounds", "open, closed"), ("visits", "draft, final")])
def test_a_status_that_is_none_names_the_words(place: str, words: str) -> None:
    with pytest.raises(InputError, match=words) as error:
        History.of({"woundfhir": 1, "patient": {}, place: [{"id": "X", "status": "Marker"}]})
    assert f"{place}[0].status" in error.value.where and "Marker" not in str(error.value)


def test_parts_have_no_name_of_a_group_of_concepts_but_for_their_own_answers() -> None:
    for name in frame().parts.keys() & catalogue().groups.keys():
        assert any(key.of == name for key in frame().parts[name].keys.values())
