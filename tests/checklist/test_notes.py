"""Realistic notes, all invented: what the checklist prints about each is what an experienced wound nurse would say.

Beside each note ``NAME.yaml`` stands ``NAME.expected.yaml``: the verdict, and each finding as rule, note and wound in
the order of the report. A person has read every one of them; a change of wording does not change these files, a
change of what is found does.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from woundfhir.checklist import Finding, check
from woundfhir.intake.given import read
from woundfhir.report.text import verdict

FOLDER = Path(__file__).parent / "notes"
NOTES = sorted(path for path in FOLDER.glob("*.yaml") if not path.name.endswith(".expected.yaml"))


def line(finding: Finding) -> str:
    """One finding as the expected files hold it."""
    return " ".join(part for part in (finding.rule, finding.visit, finding.wound) if part)


@pytest.mark.parametrize("path", NOTES, ids=lambda path: path.stem)
def test_a_realistic_note_is_judged_as_a_nurse_would(path: Path) -> None:
    expected = yaml.safe_load(path.with_name(f"{path.stem}.expected.yaml").read_text("utf-8"))
    found = check(read(path).history)
    assert [line(one) for one in found] == expected["findings"]
    assert verdict(found) == expected["verdict"]


@pytest.mark.parametrize("path", [path for path in NOTES if "good" in path.stem], ids=lambda path: path.stem)
def test_a_good_note_is_complete(path: Path) -> None:
    assert verdict(check(read(path).history)) == "Complete."


@pytest.mark.parametrize("path", NOTES, ids=lambda path: path.stem)
def test_no_name_of_a_note_stands_in_its_findings(path: Path) -> None:
    history = read(path).history
    names = {history.patient["name"]["family"], *(visit["by"].get("name", "Nurse") for visit in history.visits)}
    for one in check(history):
        assert not any(name in f"{one.message} {one.fix} {one.source}" for name in names - {"Nurse"}), one.rule


def test_there_are_notes_of_every_sort() -> None:
    stems = " ".join(path.stem for path in NOTES)
    sorts = ("good", "hurried", "wrong", "late", "draft", "transfer", "two-wounds", "honey", "compression", "packing")
    assert [sort for sort in sorts if sort not in stems] == []
    assert len(NOTES) >= 15
