"""The examples say the same in every form, are what the toolkit writes today, and are complete notes."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.paths import ROOT
from woundfhir.cli import run
from woundfhir.intake.source import parse

FOLDER = ROOT / "examples" / "skin-tear"


@pytest.mark.parametrize(
    "name", ["story.json", "story.csv", "story.fhir.json", "story.fhir.xml", "story.ndjson", "document.json"]
)
def test_every_form_of_the_example_is_the_same_record(name: str) -> None:
    written = parse((FOLDER / "story.yaml").read_bytes(), "story.yaml").history.data
    found = parse((FOLDER / name).read_bytes(), name)
    assert found.history.data == written and found.losses == []


def test_the_examples_are_what_the_toolkit_writes() -> None:
    done = subprocess.run(
        [sys.executable, "tools/build_examples.py", "--check"], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout


def test_the_example_note_is_complete(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(FOLDER / "story.yaml")]) == 0
    assert capsys.readouterr().out.startswith("Complete")
