"""What a receiver sees that knows nothing of us: R4 core alone, and the settings that a server has by default.

Outside source: the HL7 validation engine (version in pom.xml). An extension that a receiver does not know is let pass
(HL7 FHIR R4, extensibility: no application may reject a resource for extensions it does not understand), as is a
profile that it cannot find; codes of systems that it does not have are not held against anybody. What claims no profile
of ours (a transaction never does, the others without ``profiles``) passes even where unknown profiles are refused.
"""

from __future__ import annotations

from typing import Any

import pytest

import woundfhir
from woundfhir.demo import story

from .engine import Engine, Issue

Json = Any
#: Of a patient summary and of MHD the engine has no profiles here: it holds them against R4 itself.
KINDS = ("document", "ips", "mhd", "transaction", "collection")
PLAIN = ("document", "ips", "transaction", "collection")


def _errors(issues: list[Issue]) -> list[tuple[str, ...]]:
    return [tuple(map(str, issue)) for issue in issues if issue.severity in ("fatal", "error")][:20]


@pytest.fixture(scope="module")
def bundles() -> dict[str, dict[str, Json]]:
    history = woundfhir.loads(story())
    return {kind: woundfhir.bundle(history, kind) for kind in KINDS}


@pytest.mark.parametrize("kind", KINDS)
def test_a_receiver_that_knows_nothing_of_us_finds_no_error(kind: str, bundles: dict[str, dict[str, Json]]) -> None:
    assert _errors(Engine.receiver().validate([bundles[kind]], workers=1)) == []


@pytest.mark.parametrize("kind", PLAIN)
def test_a_server_that_refuses_unknown_profiles_takes_what_claims_none(kind: Any) -> None:
    strict = Engine.receiver(refuse_unknown_profiles=True)
    plain = woundfhir.bundle(woundfhir.loads(story()), kind, profiles=False)
    assert _errors(strict.validate([plain], workers=1)) == []


def test_a_server_that_refuses_unknown_profiles_refuses_a_claim(bundles: dict[str, dict[str, Json]]) -> None:
    strict = Engine.receiver(refuse_unknown_profiles=True)
    first = bundles["collection"]["entry"][0]["resource"]
    assert _errors(strict.validate([first], workers=1)) != []
