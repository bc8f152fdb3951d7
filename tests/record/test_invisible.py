"""A byte order mark alone is no text: the HL7 engine trims it, and a string of FHIR R4 (datatypes) is never empty."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest
import yaml

from tests.paths import ROOT
from woundfhir.errors import InputError
from woundfhir.record import History

Json = Any
STORY = yaml.load((ROOT / "woundfhir" / "demo" / "story.yaml").read_text(encoding="utf-8"), Loader=yaml.BaseLoader)


def _leaves(value: Json, path: tuple[Json, ...] = ()) -> Iterator[tuple[Json, ...]]:
    if isinstance(value, (dict, list)):
        for key in value if isinstance(value, dict) else range(len(value)):
            yield from _leaves(value[key], (*path, key))
    else:
        yield path


def _with(path: tuple[Json, ...], text: str) -> str:
    story = copy.deepcopy(STORY)
    holder = story
    for key in path[:-1]:
        holder = holder[key]
    holder[path[-1]] = text
    try:
        return repr(History.of(story))
    except InputError as refused:
        return str(refused)


@pytest.mark.parametrize("part", ["patient", "wounds", "visits"])
def test_a_byte_order_mark_is_read_as_a_blank(part: str) -> None:
    places = [place for place in _leaves(STORY) if place[0] == part][:80]
    assert places
    assert [place for place in places if _with(place, "\ufeff") != _with(place, " ")] == []
