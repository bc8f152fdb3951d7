"""Every answer that asks for an action by itself carries its hazard (tests/data/hazards.tsv, each with its source)."""

from __future__ import annotations

import csv

import pytest

from tests.paths import DATA
from woundfhir.catalogue import catalogue

KNOWN = catalogue()


def rows() -> list[dict[str, str]]:
    lines = (DATA / "hazards.tsv").read_text("utf-8").splitlines()
    return list(csv.DictReader((line for line in lines if not line.startswith("#")), delimiter="\t"))


ROWS = rows()


@pytest.mark.parametrize(
    "row", [row for row in ROWS if row["path"] != "several"], ids=lambda row: f"{row['path']}-{row['answer']}"
)
def test_an_answer_that_asks_by_itself_names_its_hazard(row: dict[str, str]) -> None:
    concept = KNOWN.concept(row["path"])
    word = concept.answers.find(row["answer"]) if concept.answers else None
    named = {tag.removeprefix("hazard:") for tag in word.tags if tag.startswith("hazard:")} if word else set()
    if row["answer"] in concept.page.hazards:
        named.add(concept.page.hazards[row["answer"]])
    assert row["hazard"] in named
    hazard = KNOWN.hazards[row["hazard"]]
    assert hazard.source and hazard.mark and hazard.ask.endswith("?")


def test_the_table_is_whole() -> None:
    """30 rows were handed over; nine ask by one answer, the others take several answers or notes."""
    assert len({row["row"] for row in ROWS}) == 30
    assert len({row["path"] for row in ROWS} - {"several"}) == 9
    assert all(row["source"] and row["mark"] for row in ROWS)


def test_the_opposite_of_a_hazard_is_none() -> None:
    for path, answer in (
        ("assessment.bleeding", "none"),
        ("assessment.exposed", "none"),
        ("assessment.pulses", "palpable"),
        ("assessment.healing_trend", "improving"),
        ("care.response.tolerated", "well"),
    ):
        answers = KNOWN.concept(path).answers
        assert answers is not None
        word = answers.find(answer)
        assert word is not None and not any(tag.startswith("hazard:") for tag in word.tags)
    for path in ("care.removed.all_out", "care.response.bleeding_stopped", "care.compression.circulation_checked"):
        assert KNOWN.concept(path).page.hazards.keys() == {"no"}
