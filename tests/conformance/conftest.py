"""One engine for the whole run. Every test here is of the lane ``engine``, ``browser`` or both."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.paths import ROOT
from woundfhir.catalogue import BASE, catalogue

from .engine import Engine, Issue
from .external import SDC
from .samples import generated_bundles, story_bundles
from .terminology import fragments

Json = Any
PROFILES = ROOT / "profiles"
HERE = Path(__file__).parent


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put each test of this folder into its lane."""
    for item in items:
        if item.path.is_relative_to(HERE):
            asked = set(getattr(item, "fixturenames", ()))
            if "page" in asked:
                item.add_marker("browser")
            if "page" not in asked or asked & {"own_engine", "plain_engine"}:
                item.add_marker("engine")


def engine(definitions: Sequence[Json]) -> Engine:
    """Return an engine that knows the given definitions and the codes of the catalogue."""
    return Engine([*fragments(catalogue()), *definitions])


@cache
def plain() -> Engine:
    """The engine with R4 core and what the catalogue names of LOINC and SNOMED CT: one, also for other folders.

    What takes the time of a new engine is that it reads R4 core.
    """
    return engine([])


@pytest.fixture(scope="session")
def plain_engine() -> Engine:
    return plain()


@pytest.fixture(scope="session")
def definitions() -> list[dict[str, Json]]:
    """Every conformance resource of ``profiles/``, as committed."""
    return [json.loads(path.read_bytes()) for path in sorted(PROFILES.glob("*-*.json"))]


@pytest.fixture(scope="session")
def own_engine(definitions: list[dict[str, Json]]) -> Engine:
    """The engine with our package as well."""
    return engine([*SDC, *definitions])


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
    # Each under the address that it has on a server; the canonical address of two is an older one.
    entries = [{"fullUrl": f"{BASE}/{one['resourceType']}/{one['id']}", "resource": one} for one in resources]
    return {"resourceType": "Bundle", "type": "collection", "entry": entries}


@pytest.fixture(scope="session")
def findings_on_stories(own_engine: Engine) -> list[Issue]:
    """What the engine says of the demo and the examples, in every kind of Bundle."""
    return own_engine.validate(story_bundles())


@pytest.fixture(scope="session")
def findings_on_generated(own_engine: Engine) -> list[Issue]:
    """What the engine says of generated records."""
    return own_engine.validate(generated_bundles())
