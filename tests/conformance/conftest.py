"""One engine for the whole run; without Java, Maven or JPype the tests that need it skip and say why."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import pytest

from tests.paths import ROOT
from woundfhir.catalogue import catalogue

from .engine import Engine, Issue
from .external import OBSERVATION_EXTRACT
from .jars import Unavailable
from .samples import generated_bundles, story_bundles
from .terminology import fragments

Json = Any
PROFILES = ROOT / "profiles"


def engine(definitions: Sequence[Json]) -> Engine:
    """Return an engine, or skip the test and say why there is none."""
    try:
        return Engine([*fragments(catalogue()), *definitions])
    except Unavailable as reason:
        pytest.skip(f"the HL7 validation engine cannot run: {reason}")


@pytest.fixture(scope="session")
def plain_engine() -> Engine:
    """The engine with R4 core and what the catalogue names of LOINC and SNOMED CT."""
    return engine([])


@pytest.fixture(scope="session")
def definitions() -> list[dict[str, Json]]:
    """Every conformance resource of ``profiles/``, as committed."""
    return [json.loads(path.read_bytes()) for path in sorted(PROFILES.glob("*-*.json"))]


@pytest.fixture(scope="session")
def own_engine(definitions: list[dict[str, Json]]) -> Engine:
    """The engine with our package as well."""
    return engine([OBSERVATION_EXTRACT, *definitions])


@pytest.fixture(scope="session")
def findings_on_definitions(own_engine: Engine, definitions: list[dict[str, Json]]) -> list[Issue]:
    """What the engine says of the package itself.

    In Bundles, the extensions in one: the engine reads R4 core once for each call to check where they may stand.
    """
    extensions = [found for found in definitions if found.get("type") == "Extension"]
    others = [found for found in definitions if found.get("type") != "Extension"]
    batch = [_collection(extensions), *(_collection(others[start::8]) for start in range(8))]
    return own_engine.validate(batch, workers=1)


def _collection(resources: list[dict[str, Json]]) -> dict[str, Json]:
    entries = [{"fullUrl": found["url"], "resource": found} for found in resources]
    return {"resourceType": "Bundle", "type": "collection", "entry": entries}


@pytest.fixture(scope="session")
def findings_on_stories(own_engine: Engine) -> list[Issue]:
    """What the engine says of the demo and the examples, in every kind of Bundle."""
    return own_engine.validate(story_bundles())


@pytest.fixture(scope="session")
def findings_on_generated(own_engine: Engine) -> list[Issue]:
    """What the engine says of generated records."""
    return own_engine.validate(generated_bundles())
