"""One engine for the whole run; without Java, Maven or JPype the tests that need it skip and say why."""

from __future__ import annotations

import pytest

from woundfhir.catalogue import catalogue

from .engine import Engine
from .jars import Unavailable
from .terminology import fragments


@pytest.fixture(scope="session")
def plain_engine() -> Engine:
    """The engine with R4 core and what the catalogue names of LOINC and SNOMED CT."""
    try:
        return Engine(fragments(catalogue()))
    except Unavailable as reason:
        pytest.skip(f"the HL7 validation engine cannot run: {reason}")
