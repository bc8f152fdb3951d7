"""What is written for the receivers of two national guides stands before the HL7 engine with their profiles.

Outside sources: the engine (version in pom.xml); the StructureDefinitions of HL7 US Core and of CA Baseline
(tests/data/national). Their value sets cannot be fetched offline: what is bound to one that the engine lacks is not
judged, but for the one on which a slice rests, which is written here from its published description.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest

import woundfhir
from tests.paths import DATA
from woundfhir.record import History

from .engine import Engine, Issue
from .samples import generated, stories

Json = Any
GUIDES = ("us-core", "ca-baseline")
_US = "http://hl7.org/fhir/us/core"
#: HL7 US Core, ValueSet us-core-problem-or-health-concern: two codes, of two systems (from its published description).
_CATEGORIES = [
    {
        "resourceType": "CodeSystem",
        "url": f"{_US}/CodeSystem/condition-category",
        "status": "active",
        "content": "complete",
        "caseSensitive": True,
        "concept": [{"code": "health-concern", "display": "Health Concern"}],
    },
    {
        "resourceType": "ValueSet",
        "url": f"{_US}/ValueSet/us-core-problem-or-health-concern",
        "status": "active",
        "compose": {
            "include": [
                {
                    "system": "http://terminology.hl7.org/CodeSystem/condition-category",
                    "concept": [{"code": "problem-list-item"}],
                },
                {"system": f"{_US}/CodeSystem/condition-category", "concept": [{"code": "health-concern"}]},
            ]
        },
    },
]


@cache
def engine(guide: str) -> Engine:
    """An engine that knows a guide's profiles; unknown extensions and systems pass, unknown profiles do not."""
    lines = (DATA / "national" / f"{guide}.ndjson").read_text("utf-8").splitlines()
    return Engine.of_guide([*map(_for_engine, map(json.loads, lines)), *_CATEGORIES])


def _for_engine(definition: Json) -> Json:
    """Leave out what the engine makes no snapshot of: a circle of profiles, an extension of R5."""
    itself = (definition["url"], f"{definition['url']}|{definition.get('version')}")

    def stops(of: Json) -> bool:
        return any(one in itself for one in of.get("targetProfile", ())) or any(
            "/fhir/5.0/" in one for one in of.get("profile", ())
        )

    kept = [one for one in definition["differential"]["element"] if not any(map(stops, one.get("type", ())))]
    return {**definition, "differential": {"element": kept}}


def errors(issues: list[Issue]) -> list[tuple[str, ...]]:
    return [tuple(map(str, issue)) for issue in issues if issue.severity in ("fatal", "error")][:20]


def poor() -> History:
    """A record of which little is known: what a guide asks for is missing, with the reason."""
    return History.of(
        {
            "woundfhir": 1,
            "patient": {
                "identifiers": [
                    {"system": "https://fhir.infoway-inforoute.ca/NamingSystem/ca-on-patient-hcn", "value": "1"}
                ],
                "allergies": {"none": "known"},
                "contact": {"phone": "555-0100"},
            },
            "wounds": [{"id": "W1"}],
            "visits": [
                {
                    "id": "V1",
                    "status": "final",
                    "by": {"designation": "RN"},
                    "client": {"smoking": "no", "risk_tool": "Braden scale", "risk_score": "14"},
                    "wounds": [{"wound": "W1", "care": {"cleansing": {"solution": "normal saline"}}}],
                },
                {"id": "V2", "at": "2026-03", "by": {"name": "Okafor, Ada"}},
            ],
        }
    )


@pytest.mark.parametrize("guide", GUIDES)
def test_the_stories_are_valid_in_the_dialect_of_a_guide(guide: Any) -> None:
    made = [woundfhir.bundle(story, kind, dialect=guide) for story in stories()[:3:2] for kind in ("document",)]
    assert errors(engine(guide).validate(made, workers=1)) == []
    claimed = {p for one in made for e in one["entry"] for p in e["resource"].get("meta", {}).get("profile", ())}
    assert len(claimed) > 7
    assert not any("woundfhir" in name for name in claimed)


@pytest.mark.parametrize("guide", GUIDES)
def test_what_is_missing_has_its_reason(guide: Any) -> None:
    assert errors(engine(guide).validate([woundfhir.bundle(poor(), "collection", dialect=guide)], workers=1)) == []


@pytest.mark.parametrize("guide", GUIDES)
def test_generated_records_are_valid_in_the_dialect_of_a_guide(guide: Any) -> None:
    known = {"identifiers": [{"system": "urn:example:clinic", "value": "1"}]}  # no guide takes a client without one
    records = [{**one, "patient": {**one.get("patient", {}), **known}} for one in generated(25)]
    wounds = [
        {
            **one,
            "wounds": [
                {key: value for key, value in wound.items() if key != "closed" or wound.get("status") == "closed"}
                for wound in one.get("wounds", ())
            ],
        }
        for one in records
    ]
    made = [woundfhir.bundle(History.of(one), "collection", dialect=guide) for one in wounds]
    assert errors(engine(guide).validate(made)) == []


def test_without_the_dialect_the_profiles_of_the_guide_are_not_met() -> None:
    """The engine does hold against the profiles: ours, claiming them as they are, is refused."""
    made = woundfhir.bundle(poor(), "collection", profiles=False)
    for entry in made["entry"]:
        if (kind := entry["resource"]["resourceType"]) in ("Practitioner", "Organization", "Encounter", "CareTeam"):
            entry["resource"]["meta"] = {"profile": [f"{_US}/StructureDefinition/us-core-{kind.lower()}"]}
    assert len(errors(engine("us-core").validate([made], workers=1))) > 2
