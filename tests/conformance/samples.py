"""What to judge: the project's stories in every kind of Bundle, and generated records, the same ones in every run."""

from __future__ import annotations

import os
from typing import Any

from hypothesis import HealthCheck, Phase, given, settings

import woundfhir
from tests.paths import ROOT
from tests.strategies import records
from woundfhir.catalogue import BASE
from woundfhir.fhir import to_fhir
from woundfhir.handover.bundling import Kind, bundle
from woundfhir.record import History

Json = Any
#: The kinds that claim profiles of ours alone.
KINDS: tuple[Kind, ...] = ("document", "transaction", "collection")
#: Generated records that are judged; ``CONFORMANCE_RECORDS`` asks for another number.
NUMBER = int(os.environ.get("CONFORMANCE_RECORDS", "2000"))


def stories() -> list[History]:
    """Return the demo's story and every record of the examples."""
    files = [ROOT / "woundfhir" / "demo" / "story.yaml", *sorted((ROOT / "examples").glob("**/*.yaml"))]
    return [woundfhir.read(path).history for path in files]


def story_bundles() -> list[dict[str, Json]]:
    """Return each story as a document, a transaction and a collection.

    A transaction claims no profile; here it does, so that the engine holds it against ours.
    """
    made = [bundle(story, kind) for story in stories() for kind in KINDS]
    claim = {"profile": [f"{BASE}/StructureDefinition/bundle-transaction"]}
    return [{**one, "meta": claim} if one["type"] == "transaction" else one for one in made]


def generated_bundles() -> list[dict[str, Json]]:
    """Return each generated record as a collection; one in which nothing is known has none."""
    histories = [History.of(_agreeing(record)) for record in generated(NUMBER)]
    return [bundle(history, "collection") for history in histories if to_fhir(history)]


def _agreeing(record: dict[str, Json]) -> dict[str, Json]:
    """Leave out a date of closure on a wound that is not said to be closed: a contradiction, which con-4 refuses."""
    wounds = [
        {key: value for key, value in wound.items() if key != "closed" or wound.get("status") == "closed"}
        for wound in record.get("wounds", ())
    ]
    return {**record, "wounds": wounds}


def generated(number: int) -> list[dict[str, Json]]:
    """Return generated records, of everything that the record admits; the same number gives the same records."""
    found: list[dict[str, Json]] = []

    @settings(
        max_examples=number,
        derandomize=True,
        database=None,
        deadline=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    @given(records())
    def collect(record: dict[str, Json]) -> None:
        found.append(record)

    collect()
    return found
