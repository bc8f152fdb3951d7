"""What the project writes passes the HL7 engine with our package loaded: no error, and no warning that is not listed.

Outside source: the HL7 validation engine (version in pom.xml) with the definitions of HL7 FHIR R4 4.0.1.
"""

from __future__ import annotations

from typing import Any

from woundfhir.definitions.examples import resources

from .allowed import allowances, refused
from .engine import Engine, Issue
from .samples import story_bundles

Json = Any


def _brief(issues: list[Issue]) -> list[tuple[str, ...]]:
    """What is refused, at most a screen of it."""
    return [tuple(str(part) for part in issue) for issue in refused(issues)][:20]


def test_stories_pass_in_every_kind_of_bundle(findings_on_stories: list[Issue]) -> None:
    assert _brief(findings_on_stories) == []


def test_resources_pass_one_by_one(own_engine: Engine) -> None:
    alone = [entry["resource"] for entry in story_bundles()[-1]["entry"]]
    assert _brief(own_engine.validate(alone)) == []


def test_the_examples_of_the_package_have_no_error(own_engine: Engine) -> None:
    """They hold every field and what is seldom written, of which the engine has more to remark than of a note."""
    issues = own_engine.validate(resources())
    assert _brief([one for one in issues if one.severity in ("fatal", "error")]) == []


def test_generated_records_pass(findings_on_generated: list[Issue]) -> None:
    assert _brief(findings_on_generated) == []


def test_every_profile_that_is_named_is_in_the_package(definitions: list[dict[str, Json]]) -> None:
    known = {found["url"] for found in definitions if found["resourceType"] == "StructureDefinition"}
    named = {
        url for made in story_bundles() for found in _all(made) for url in found.get("meta", {}).get("profile", ())
    }
    assert named and named <= known


def _all(made: dict[str, Json]) -> list[dict[str, Json]]:
    return [made, *(entry["resource"] for entry in made["entry"])]


def test_every_allowance_is_needed(
    findings_on_definitions: list[Issue], findings_on_stories: list[Issue], findings_on_generated: list[Issue]
) -> None:
    issues = [*findings_on_definitions, *findings_on_stories, *findings_on_generated]
    idle = [allowance for allowance in allowances() if not any(allowance.fits(issue) for issue in issues)]
    # Whether a generated word holds a bi-directional control character depends on the draw.
    idle = [allowance for allowance in idle if not allowance.id.pattern.startswith("UNICODE_BIDI")]
    assert [(allowance.id.pattern, allowance.match.pattern) for allowance in idle] == []
