"""FHIR as bytes: made of parts that are JSON already, and to the byte what the resources give."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

import woundfhir
from tests.paths import ROOT
from tests.strategies import records
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.fhir.convert import lines
from woundfhir.r4 import jsonio
from woundfhir.record import History

Json = Any
STORIES = sorted((ROOT / "examples").glob("*/story.yaml"))


@pytest.mark.property
@given(records())
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
def test_lines_are_the_resources(raw: dict[str, Json]) -> None:
    history = History.of(raw)
    assert lines(history) == jsonio.encode_lines(to_fhir(history))


@pytest.mark.parametrize("path", STORIES, ids=lambda path: path.parent.name)
def test_lines_of_the_stories(path: Path) -> None:
    history = woundfhir.read(path).history
    assert lines(history) == jsonio.encode_lines(to_fhir(history))


def test_half_a_character_is_refused_with_its_place() -> None:
    """A Python text can hold half a surrogate pair, which UTF-8 cannot (RFC 3629, section 3)."""
    number = {"system": "https://example.org/numbers", "value": "1"}
    history = History(
        {"woundfhir": 1, "patient": {"identifiers": [number], "note": "\ud800"}, "wounds": [], "visits": []}
    )
    with pytest.raises(InputError, match="half a surrogate"):
        lines(history)
