"""The package itself: made from the catalogue, in order for the HL7 engine, and loaded by HL7's own package reader.

Outside source: the HL7 validation engine (version in pom.xml) with the definitions of HL7 FHIR R4 4.0.1.
"""

from __future__ import annotations

from typing import Any

from woundfhir.definitions.build import files
from woundfhir.package import package_bytes

from .allowed import refused
from .conftest import PROFILES
from .engine import Engine, Issue
from .package import unpacked

Json = Any


def test_the_folder_is_what_the_catalogue_says() -> None:
    there = {path.name: path.read_bytes() for path in PROFILES.iterdir() if path.is_file()}
    made = files()
    assert sorted(there) == sorted(made)
    assert [name for name in made if there[name] != made[name]] == []


def test_the_engine_refuses_no_definition(findings_on_definitions: list[Issue]) -> None:
    assert refused(findings_on_definitions) == []


#: What a snapshot says that binds, element by element; words may differ.
_BINDING = (
    "path", "sliceName", "slicing", "min", "max", "type", "binding", "contentReference", "base", "isModifier",
    "mustSupport", "fixedUri", "patternCode", "patternCodeableConcept",
)  # fmt: skip


def _said(element: dict[str, Json]) -> dict[str, Json]:
    said = {key: element[key] for key in _BINDING if key in element}
    if "binding" in said:
        said["binding"] = {key: said["binding"].get(key) for key in ("strength", "valueSet")}
    if "slicing" in said:
        said["slicing"] = {key: value for key, value in said["slicing"].items() if key != "description"}
    said["constraint"] = sorted(constraint["key"] for constraint in element.get("constraint", ()))
    return said


def test_each_snapshot_is_the_one_that_the_engine_makes(own_engine: Engine, definitions: list[dict[str, Json]]) -> None:
    profiles = [found for found in definitions if found["resourceType"] == "StructureDefinition"]
    for ours in profiles:
        other = own_engine.snapshot(ours)
        mine = {element["id"]: _said(element) for element in ours["snapshot"]["element"]}
        made = {element["id"]: _said(element) for element in other["snapshot"]["element"]}
        assert list(mine) == list(made), ours["id"]
        assert [(key, mine[key], made[key]) for key in mine if mine[key] != made[key]] == [], ours["id"]


def test_the_package_loads_in_a_clean_engine(
    plain_engine: Engine, own_engine: Engine, definitions: list[dict[str, Json]]
) -> None:
    """What its reader finds in the package is what ``own_engine`` was made of."""
    name, version, resources = unpacked(package_bytes())
    assert (name, version) == ("org.w3id.woundfhir", definitions[0]["version"])
    assert {found["url"]: found for found in resources} == {found["url"]: found for found in definitions}
    assert len(resources) == len(definitions)
    url = next(found["url"] for found in resources if found["id"] == "assessment-panel")
    bare = {"resourceType": "Observation", "meta": {"profile": [url]}}
    assert any(
        f"Observation.focus: minimum required = 1, but only found 0 (from {url}" in issue.message
        for issue in own_engine.validate([bare])
    )
    assert any("could not be found" in issue.message for issue in plain_engine.validate([bare]))
