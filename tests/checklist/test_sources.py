"""Each claim that was read against its source, held against the mark and the citation that stand in the project.

``tests/data/sources.tsv`` holds the claims as they were read; ``sources_applied.tsv`` says where each is applied.
"""

from __future__ import annotations

import csv
from typing import NamedTuple

import pytest

from tests.paths import DATA
from woundfhir.catalogue import catalogue
from woundfhir.checklist import rules
from woundfhir.checklist.policy import load

RULES = {one.code: one for one in rules()}
POLICY = load("ontario").limits
#: What the reader of the sources wrote -> the marks that a page may then carry.
MAY = {
    "SEEN": {"seen", "published standard", "arithmetic", "seen, secondary source"},
    "SEEN secondary": {"seen, secondary source", "seen", "published standard"},
    "NOT FOUND": {"from memory", "common practice, no source", "low-quality source", "arithmetic"},
}
#: Pages whose mark is that of another source on them: the claim itself is named as what it is.
MIXED = {
    "HD03",
    "HD05",
    "HD08",
    "LL08",
    "CH09",
    "DF01",
    "TR14",
    "HD10",
    "policy course.venous_percent",
    "policy header.late_hours",
}


class Applied(NamedTuple):
    """One row: the claim, its place, the mark and the words that stand there."""

    key: str
    place: str
    mark: str
    cites: str


def _rows(name: str) -> list[list[str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        lines = [line for line in file if not line.startswith("#")]
    return list(csv.reader(lines, delimiter="\t", quoting=csv.QUOTE_NONE))[1:]


READ = {row[0]: row for row in _rows("sources.tsv")}
APPLIED = [Applied(*row) for row in _rows("sources_applied.tsv")]


def _stands(place: str) -> tuple[str, str]:
    """Mark and source at a place."""
    kind, _, key = place.partition(" ")
    if kind == "policy":
        return POLICY[key].mark, f"{POLICY[key].source} {POLICY[key].others}"
    if kind == "hazard":
        return catalogue().hazards[key].mark, catalogue().hazards[key].source
    page = RULES[place].page
    return page.mark, f"{page.source} {page.fix}"


def test_every_claim_that_was_read_is_applied_or_says_why_not() -> None:
    assert len(READ) == 134
    assert {one.key for one in APPLIED} == READ.keys()
    assert [one for one in APPLIED if not one.cites] == []


@pytest.mark.parametrize("one", [one for one in APPLIED if one.place != "-"], ids=lambda one: f"{one.key} {one.place}")
def test_mark_and_citation_are_those_of_what_was_read(one: Applied) -> None:
    mark, source = _stands(one.place)
    assert mark == one.mark
    assert one.cites.casefold() in source.casefold()
    # A raise from memory to seen needs a source that was read; what was not found stays marked so.
    if one.place not in MIXED:
        assert mark in MAY[READ[one.key][4]] or "not read" in source or "not applied" in one.cites, READ[one.key][4]


def test_no_required_rule_rests_on_memory_or_on_a_source_of_low_quality() -> None:
    """A rule is required only where a source that was read, and is not of low quality, says so (a promise of ours)."""
    weak = {"from memory", "low-quality source"}
    assert [code for code, one in RULES.items() if one.severity == "required" and one.page.mark in weak] == []


def test_the_third_edition_is_not_cited_for_what_is_outside_its_scope() -> None:
    """RNAO, 3rd edition, 2016, purpose and scope: adults; not mucosal, cartilage or device-related injuries."""
    outside = ("device", "mucos", "child")
    wrong = [
        code
        for code, one in RULES.items()
        if "3rd edition, 2016" in one.page.source
        and any(word in f"{code} {one.page.title} {one.page.why}".casefold() for word in outside)
    ]
    assert wrong == []


def test_the_standard_of_the_regulator_is_cited_with_the_day_it_came_into_force() -> None:
    """College of Nurses of Ontario, news of 20 October 2025: approved 18 September 2025, in force 1 February 2026."""
    citing = [
        one.page.source for one in RULES.values() if "College of Nurses of Ontario, Documentation" in one.page.source
    ]
    assert citing
    assert [source for source in citing if "in force 1 February 2026" not in source] == []
