"""The check can fail: good resources pass without a word, and each broken one is refused for the stated reason.

Outside source: the HL7 validation engine (org.hl7.fhir.validation, in HAPI FHIR; version in pom.xml), which judges by
the definitions of HL7 FHIR R4 4.0.1. The resources are invented.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from . import jars
from .allowed import refused
from .cases import good, patched, raw, says
from .engine import Engine

_GOOD = good()
_BROKEN = raw("broken")


def test_the_good_resources_pass_without_a_word(plain_engine: Engine) -> None:
    assert refused(plain_engine.validate(list(_GOOD.values()))) == []


@pytest.mark.parametrize("case", _BROKEN, ids=[case["name"] for case in _BROKEN])
def test_a_broken_resource_is_refused_for_its_reason(plain_engine: Engine, case: dict[str, Any]) -> None:
    found = plain_engine.validate([patched(_GOOD[case["of"]], case["patch"])])
    assert says(case, found), [issue[1:] for issue in refused(found)]


def test_issues_name_the_resource_of_the_batch_that_they_are_about(plain_engine: Engine) -> None:
    batch = [_GOOD["size"], patched(_GOOD["size"], [{"op": "remove", "path": "/code"}]), _GOOD["change"]]
    assert {issue.of for issue in refused(plain_engine.validate(batch))} == {1}


def test_bytes_and_text_are_judged_as_dicts_are(plain_engine: Engine) -> None:
    text = '{"resourceType": "Observation", "status": "final", "valueQuantity": {"value": 4.10}}'
    counts = [len(refused(plain_engine.validate([one]))) for one in (text, text.encode())]
    assert counts[0] == counts[1] > 0


def test_the_home_of_the_engine_outlives_the_fetching_of_its_jars(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def fetch(wanted: str) -> None:
        made = tmp_path / "made"
        made.mkdir()
        (made / "pom.sha256").write_text(wanted, "ascii")
        jars.shutil.rmtree(tmp_path / "jars", ignore_errors=True)
        made.rename(tmp_path / "jars")

    monkeypatch.setattr(jars, "JARS", tmp_path / "jars")
    monkeypatch.setattr(jars, "_fetch", fetch)
    monkeypatch.setattr(jars.shutil, "which", lambda _: "here")
    core = jars.home() / ".fhir" / "packages" / "hl7.fhir.r4.core#4.0.1" / "package" / "package.json"
    assert core.is_file()
    assert jars.jars() == []
    assert core.is_file()


def test_a_snapshot_is_made_from_a_differential(plain_engine: Engine) -> None:
    made = plain_engine.snapshot(
        {
            "resourceType": "StructureDefinition",
            "url": "http://example.org/tiny",
            "name": "Tiny",
            "status": "draft",
            "fhirVersion": "4.0.1",
            "kind": "resource",
            "abstract": False,
            "type": "Observation",
            "baseDefinition": "http://hl7.org/fhir/StructureDefinition/Observation",
            "derivation": "constraint",
            "differential": {"element": [{"id": "Observation.focus", "path": "Observation.focus", "min": 1}]},
        }
    )
    elements = {element["id"]: element for element in made["snapshot"]["element"]}
    assert elements["Observation.focus"]["min"] == 1
    assert elements["Observation.subject"]["base"]["path"] == "Observation.subject"
