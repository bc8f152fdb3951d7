"""Every proposal has its rule, and the policy holds the numbers that are published (``tests/data``)."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.checklist.casebook import FOLDER
from tests.checklist.casebook import load as load_cases
from tests.paths import DATA, ROOT
from woundfhir.checklist import rules
from woundfhir.checklist.policy import load

Json = Any
HAZARDS = FOLDER.parent / "hazards.yaml"


def test_every_proposal_is_answered() -> None:
    """tests/data/checklist.tsv: each of its proposals has a rule, or a reason why it has none."""
    known = {one.code for one in rules()}
    answered = {}
    for line in (ROOT / "tests/checklist/proposals.tsv").read_text("utf-8").splitlines()[1:]:
        proposal, named, why = line.split("\t")
        answered[proposal] = named.split()
        assert set(named.split()) <= known, proposal
        assert named or why, proposal
    rows = (DATA / "checklist.tsv").read_text("utf-8").splitlines()[1:]
    assert sorted(answered) == sorted(row.split("\t")[0] for row in rows)
    named_here = {code for codes_of in answered.values() for code in codes_of} | _OF_HAZARDS
    assert {code for code in known - named_here if not code.startswith("GAP-")} == _BEYOND


#: Rules of the second table (tests/data/hazards.tsv), which ``test_hazards.py`` walks.
_OF_HAZARDS = {code for one in load_cases(HAZARDS).values() for code in one["rules"]}
#: Rules that stand on no proposal: sense of the record itself, and what a nurse misses when it is not there.
_BEYOND = {
    "DR23",
    "LL35",
    "SE52",
    "SE53",
    "SE54",
    "SE55",
    "SE56",
    "SE57",
    "SF05",
    "AB01",
    "CH37",
    "CH38",
    "HD13",
    "SE51",
    "SF04",
    "CO32",
    "NP01",
    "NP04",
    "RF01",
    "RF02",
    "SE46",
    "SE47",
    "SF01",
    "SF06",
    "SF02",
    "SF03",
    "CH35",
    "CH36",
    "DB11",
    "LL34",
    "SE48",
    "SE49",
    "SE50",
    "FA03",
    "HD06",
    "HD09",
    "SE06",
    "SE10",
    "SE11",
    "SE13",
    "SE17",
    "SE18",
    "SE19",
    "SE28",
    "WD01",
    "WD02",
    "SE20",
    "SE22",
    "SE26",
    "CO10",
    "CO11",
    "DR16",
    "DR17",
    "DR18",
    "TR17",
}


@pytest.mark.parametrize(
    ("row", "key", "pattern"),
    [
        ("irrigation volume, pressure injury", "cleansing.volume", r"at least (\d+)"),
        ("irrigation pressure", "cleansing.pressure_low", r"(\d+)-\d+ psi"),
        ("irrigation pressure", "cleansing.pressure_high", r"\d+-(\d+) psi"),
        ("PI reassessment trigger", "pressure_injury.progress_days", r"at (\d+) days"),
        ("NERDS", "infection.signs", r"any (\d) of 5"),
        ("STONEES", "infection.signs", r"any (\d) of 7"),
        ("temperature difference conversion", "infection.warmer", r"^(\d\.\d\d)"),
    ],
)
def test_the_policy_holds_the_published_number(row: str, key: str, pattern: str) -> None:
    """tests/data/worked_values.tsv, which names the source of each row."""
    lines = [
        line for line in (DATA / "worked_values.tsv").read_text("utf-8").splitlines() if line.startswith(f"{row}\t")
    ]
    assert lines
    cells = " | ".join(lines[0].split("\t")[1:3])
    found = (
        re.search(pattern, cells)
        or re.search(pattern, lines[0].split("\t")[2])
        or re.search(pattern, lines[0].split("\t")[1])
    )
    assert found is not None, lines[0]
    wanted = load("ontario").number(key)
    assert abs(float(found[1]) - float(wanted)) <= 0.011
