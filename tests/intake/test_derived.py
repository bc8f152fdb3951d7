"""Computed values travel with their inputs, and are recomputed, never trusted, when they come in."""

from __future__ import annotations

import copy
from decimal import Decimal
from typing import Any

import pytest

from woundfhir.demo import story
from woundfhir.handover import bundle
from woundfhir.intake.inputs import DIFFERS
from woundfhir.intake.source import parse
from woundfhir.output import render_resource


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return bundle(parse(story(), "story").history, "document")


def computed(document: dict[str, Any]) -> dict[str, dict[str, Any]]:
    found = {}
    for entry in document["entry"]:
        resource = entry["resource"]
        if any(url.endswith("/computed") for url in resource["meta"].get("profile", ())):
            found[f"{resource['code']['coding'][0]['code']} {resource['focus'][0]['reference']}"] = resource
    return found


def test_a_document_carries_computed_values_that_name_their_inputs(document: dict[str, Any]) -> None:
    values = computed(document)
    assert len(values) == 6
    urls = {entry["fullUrl"]: entry["resource"] for entry in document["entry"]}
    for resource in values.values():
        assert resource["derivedFrom"]
        for reference in resource["derivedFrom"]:
            assert urls[reference["reference"]]["code"]["coding"][0]["code"] == "72287-6"


def test_the_change_is_that_of_the_percentage_formula(document: dict[str, Any]) -> None:
    """PAR = (A0 - At) / A0 * 100: 5.2 x 4.0 to 3.0 x 2.2 cm is 68.27 per cent smaller (by hand)."""
    changes = [r["valueQuantity"]["value"] for key, r in computed(document).items() if "percent" in key]
    assert Decimal("-68.27") in changes


def test_computed_values_do_not_come_back_as_answers(document: dict[str, Any]) -> None:
    found = parse(render_resource(document), "document")
    assert found.history.data == parse(story(), "story").history.data
    assert found.losses == []


def test_a_value_that_the_record_does_not_give_is_reported_kept_and_not_used(document: dict[str, Any]) -> None:
    wrong = copy.deepcopy(document)
    for resource in computed(wrong).values():
        if "percent" in resource["code"]["coding"][0]["code"]:
            resource["valueQuantity"]["value"] = Decimal("-99.00")
    found = parse(render_resource(wrong), "document")
    assert sum(DIFFERS in line for line in found.losses) == 2
    assert sum(item.get("why") == DIFFERS for item in found.history.extra) == 2
    assert "-99" not in "".join(found.losses)
