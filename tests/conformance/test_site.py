"""The package of a site, and a note in its words, as HL7's engine sees them beside our package.

Outside source: the HL7 validation engine (version in pom.xml) with the definitions of HL7 FHIR R4 4.0.1.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

import woundfhir
from tests.paths import ROOT
from woundfhir.package import definitions as of_site

from .allowed import refused
from .conftest import engine
from .engine import Engine
from .external import SDC

Json = Any
FOLDER = ROOT / "examples" / "site"


@pytest.fixture(scope="module")
def made() -> list[dict[str, Json]]:
    with woundfhir.Site(FOLDER):
        return [json.loads(content) for name, content in of_site().items() if "-" in name]


@pytest.fixture(scope="module")
def site_engine(definitions: list[dict[str, Json]], made: list[dict[str, Json]], own_engine: Engine) -> Engine:
    return engine([*SDC, *definitions, *made])


def test_the_engine_refuses_no_definition_of_a_site(site_engine: Engine, made: list[dict[str, Json]]) -> None:
    assert len(made) > 5
    found = refused(site_engine.validate(made, workers=1))
    # The engine's chain serves no ImplementationGuide, so it cannot find the one that the site's depends on.
    assert [one for one in found if one.message_id != "IG_DEPENDENCY_INVALID_URL"] == []


def test_the_engine_finds_no_error_in_a_note_with_words_of_a_site(site_engine: Engine) -> None:
    with woundfhir.Site(FOLDER):
        bundle = woundfhir.bundle(woundfhir.read(FOLDER / "note.yaml").history, "collection")
    found = site_engine.validate([json.loads(json.dumps(bundle, default=str))])
    assert [one for one in found if one.severity in ("error", "fatal")] == []


def test_the_engine_sees_that_a_word_of_the_site_is_wrong(site_engine: Engine) -> None:
    """The profile of a site binds: without its focus the Observation is refused."""
    with woundfhir.Site(FOLDER):
        resources = woundfhir.to_fhir(woundfhir.read(FOLDER / "note.yaml").history)
    (tape,) = [one for one in resources if "observation-tape-reaction" in json.dumps(one.get("meta", {}))]
    del tape["focus"]
    assert [one for one in site_engine.validate([tape]) if one.severity == "error" and "focus" in one.message]
