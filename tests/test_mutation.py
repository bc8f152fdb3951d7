"""tools/mutation.py on one line of a file: a fault that a test finds is found, one that none finds is named."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.paths import ROOT

pytest.importorskip("cosmic_ray")


@pytest.mark.parametrize(("formula", "answer"), [("return PI * (3", "killed"), ("return KUNDIN *", "survived")])
def test_faults_are_found_or_named(formula: str, answer: str, tmp_path: Path) -> None:
    """The test of Gilman's advance asks for the perimeter of an ellipse (first formula) and for no volume (second)."""
    file, results = "woundfhir/measures/size.py", tmp_path / "results.json"
    lines = (ROOT / file).read_text().splitlines()
    (place,) = (f"{file}:{number}" for number, line in enumerate(lines, 1) if formula in line)
    command = ["tools/mutation.py", "measures/size.py", "tests/measures/test_worked_sizes.py::test_gilman_on_ellipses"]
    run = subprocess.run(
        [sys.executable, *command, "--only", place, "--sample", "1", "--out", str(results)],
        cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert [result["answer"] for result in json.loads(results.read_text())] == [answer]
    assert (f"survived: {place} -" in run.stdout) == (answer == "survived")
