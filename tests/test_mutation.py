"""tools/mutation.py on two lines of a file: the fault that a test finds is found, the one that none finds is named."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.paths import ROOT

pytest.importorskip("cosmic_ray")


def test_faults_are_found_or_named(tmp_path: Path) -> None:
    """The test of Gilman's advance asks for the perimeter of an ellipse and for no volume."""
    file, results = "woundfhir/measures/size.py", tmp_path / "results.json"
    lines = (ROOT / file).read_text().splitlines()
    places = {
        which: f"{file}:{number}"
        for number, line in enumerate(lines, 1)
        for which, words in (("volume", "return KUNDIN *"), ("perimeter", "return PI * (3"))
        if words in line
    }
    command = ["tools/mutation.py", "measures/size.py", "tests/measures/test_worked_sizes.py::test_gilman_on_ellipses"]
    run = subprocess.run(
        [sys.executable, *command, "--only", *places.values(), "--sample", "6", "--out", str(results)],
        cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    answers: dict[str, set[str]] = {place: set() for place in places.values()}
    for result in json.loads(results.read_text()):
        path, _, _, line = result["fault"]
        answers[f"{path}:{line}"].add(result["answer"])
    assert answers == {places["volume"]: {"survived"}, places["perimeter"]: {"killed"}}
    assert f"survived: {places['volume']} - return KUNDIN" in run.stdout
