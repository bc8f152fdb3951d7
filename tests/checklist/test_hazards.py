"""Hazards and contradictions of several answers: every row of the table asks, and its harmless twin does not.

Source: tests/data/hazards.tsv (each row with its own source there). The notes are invented.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.catalogue.test_hazards import ROWS
from tests.checklist.casebook import FOLDER, findings, load
from woundfhir.checklist import rules

Json = Any

COVERED: dict[str, Json] = load(FOLDER.parent / "hazards.yaml")
SEVERAL = {row["row"] for row in ROWS if row["path"] == "several"}
KNOWN = {one.code: one for one in rules()}


def test_every_row_of_the_table_is_covered() -> None:
    """The rows of one answer are asked about by SF01, by their tags; each of the others has its cases here."""
    one_answer = {row["row"] for row in ROWS} - SEVERAL
    assert len(one_answer) + len(SEVERAL) == 30
    assert sorted(SEVERAL - COVERED.keys()) == [], "rows without cases"
    assert sorted(COVERED.keys() - SEVERAL) == [], "cases of no row"
    assert {code for one in COVERED.values() for code in one["rules"]} <= KNOWN.keys()


@pytest.mark.parametrize("row", sorted(COVERED))
def test_a_hazard_asks_and_its_twin_does_not(row: str) -> None:
    one = COVERED[row]
    asked = {found.rule for found in findings(one["asks"])}
    assert asked & set(one["rules"]), f"nobody asks; found {sorted(asked)}"
    twin = {found.rule for found in findings(one["quiet"])}
    assert not twin & set(one["rules"]), sorted(twin)


@pytest.mark.parametrize("row", sorted(COVERED))
def test_what_asks_is_something_to_look_at(row: str) -> None:
    assert {KNOWN[code].severity for code in COVERED[row]["rules"]} <= {"caution", "sense"}


@pytest.mark.parametrize("row", [row for row in ROWS if row["path"] != "several"], ids=lambda row: str(row["answer"]))
def test_one_answer_that_names_a_hazard_is_asked_about(row: dict[str, str]) -> None:
    """Charted where it belongs on an otherwise good note, with nothing about what was done."""
    group, *keys = row["path"].split(".")
    answer: Json = row["answer"]
    if row["path"] == "assessment.exposed":
        answer = [answer]
    for key in reversed(keys):
        answer = {key: answer}
    base = "leg" if "compression" in keys or "pulses" in keys else "foot" if "probe_to_bone" in keys else "full"
    found = findings({"base": base, group: answer})
    assert any(one.severity == "caution" for one in found), row["row"]
