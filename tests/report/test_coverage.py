"""How the codes of a conversion are counted: by concept, with places, both ways; and the aims for the demo."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner

import woundfhir
from tests.paths import DATA
from woundfhir.cli import cli
from woundfhir.demo import story
from woundfhir.report.coverage import KINDS

LOINC, SNOMED = "http://loinc.org", "http://snomed.info/sct"


def observation(number: int, code: dict[str, Any], **value: Any) -> dict[str, Any]:
    made = {"resourceType": "Observation", "id": f"o{number}", "status": "final", "code": code}
    return {**made, "effectiveDateTime": "2026-03-02", "subject": {"reference": "Patient/p"}, **value}


def test_the_demo_says_in_standard_codes_what_open_systems_have_codes_for() -> None:
    """Before codes_2.tsv: 245 of 449 Observations and 89 of 121 Procedures had codes of ours alone."""
    found = woundfhir.coverage(woundfhir.loads(story().decode())).by(1)
    assert found["Observation.code"]["own"] < 50 < found["Observation.code"]["standard"]
    assert found["Procedure.code"]["own"] == 42  # protection of the skin, packing, securement: no open code
    assert found["CarePlan.category"]["own"] == found["Encounter.type"]["own"] == 0
    assert sum(count["kept"] for count in found.values()) == 0


def test_what_came_is_counted_by_concept_with_places() -> None:
    came = [
        observation(1, {"coding": [{"system": LOINC, "code": "72288-4"}]}, valueCodeableConcept={"text": "cheesy"}),
        observation(2, {"coding": [{"system": "https://example.org/house", "code": "x"}]}, valueString="y"),
        observation(3, {"coding": [{"system": LOINC, "code": "718-7"}]}, valueString="z"),
    ]
    found = woundfhir.coverage(woundfhir.read(came).report)
    assert found.counts == {"standard": 1, "own": 0, "words": 1, "kept": 2}
    assert found.places("assessment.odour", "words") == ["Observation/o1: Observation.valueCodeableConcept"]
    assert found.places("Observation", "kept") == [
        "Observation/o2: Observation.code",
        "Observation/o3: Observation.code",
    ]
    plain = found.json()
    assert (
        sum(plain["counts"].values())
        == len(found.found)
        == sum(sum(one.values()) for one in plain["elements"].values())
    )
    assert "cheesy" not in json.dumps(plain) + "\n".join(found.text())


def test_a_code_of_one_house_that_is_read_by_its_words_is_no_standard_code() -> None:
    house = {"coding": [{"system": "https://example.org/house", "code": "x"}], "text": "foul"}
    odour = {"coding": [{"system": LOINC, "code": "72288-4"}]}
    found = woundfhir.coverage(woundfhir.read([observation(1, odour, valueCodeableConcept=house)]).report)
    assert found.by(1)["Observation.valueCodeableConcept"]["standard"] == 0


def test_convert_writes_it_on_request_as_json_and_as_text(tmp_path: Path) -> None:
    source = DATA / "before_codes_2" / "skin-tear.yaml"
    for name in ("c.json", "c.txt"):
        args = ["convert", str(source), "--to", "fhir-json", "-o", str(tmp_path / f"{name}.fhir.json")]
        ran = CliRunner().invoke(cli, [*args, "--coverage", str(tmp_path / name)])
        assert ran.exit_code == 0, ran.output
    ((ways),) = json.loads((tmp_path / "c.json").read_text("utf-8")).values()
    assert set(ways["written"]) == {"counts", "elements", "concepts"} and list(ways["written"]["counts"]) == list(KINDS)
    text = (tmp_path / "c.txt").read_text("utf-8")
    assert "coded in standard systems" in text and "care.packing" not in text


def test_what_is_written_is_read_with_the_same_codes_and_nothing_kept() -> None:
    history = woundfhir.loads(story().decode())
    again = woundfhir.coverage(woundfhir.read(woundfhir.to_fhir(history)).report)
    assert again.counts == woundfhir.coverage(history).counts
