"""The same input gives the same bytes, whatever the hash seed, the zone, the locale and the working folder (law 9).

The sheet and the formats of a record are held in ``handover/test_sheet.py`` and ``fhir/test_convert.py``; here stand
reports, drawings, definitions, tables and what else is written to a file.
"""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.paths import ROOT

RUNS = {
    **{
        form: f"check story.yaml --all --format {form}"
        for form in ("text", "json", "outcome", "junit", "sarif", "github", "html", "ndjson")
    },
    "course": "trend story.yaml --format json",
    "chart": "trend story.yaml --wound W2 --svg out",
    "counts": "audit story.yaml --format json --svg out",
    "MHD": "bundle story.yaml --as mhd",
    "transaction": "bundle story.yaml --as transaction",
    "message": "bundle story.yaml --to hl7-v2-mdm",
    "tables": "convert story.yaml --to csv --table facts",
    "definitions": "profiles --package out",
    "report": "convert story.yaml --to record --report out",
    "form": "form story.yaml --visit V1 --wound W1",
}
PROGRAM = """
import contextlib, hashlib, io, pathlib, shlex, sys
from woundfhir.cli import run
from woundfhir.demo import story
pathlib.Path("story.yaml").write_bytes(story())
for line in sys.stdin.read().splitlines():
    shown = io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True)
    with contextlib.redirect_stdout(shown):
        code = run(shlex.split(line))
    found, out = hashlib.sha256(shown.buffer.getvalue()), pathlib.Path("out")
    if out.exists():
        found.update(out.read_bytes())
        out.unlink()
    print(code, found.hexdigest(), line)
"""


@pytest.fixture(scope="module")
def digests(tmp_path_factory: pytest.TempPathFactory) -> list[list[str]]:
    """One line for each run: the exit code, SHA-256 of what it showed and wrote, the command; in two surroundings."""
    found = []
    for seed, zone, language in (("1", "UTC", "C"), ("4242", "Asia/Kolkata", "C.UTF-8")):
        more = {"PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": language, "PYTHONPATH": str(ROOT)}
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM],
            input="\n".join(RUNS.values()),
            env={**os.environ, **more},
            cwd=tmp_path_factory.mktemp(f"seed-{seed}"),
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        found.append(done.stdout.splitlines())
    return found


def test_every_run_shows_something_of_its_own(digests: list[list[str]]) -> None:
    assert len(digests[0]) == len(RUNS)
    assert [line for line in digests[0] if line.split()[0] not in ("0", "1")] == []
    assert len({line.split()[1] for line in digests[0]}) == len(RUNS)


@pytest.mark.parametrize("name", RUNS)
def test_the_same_bytes_in_other_surroundings(name: str, digests: list[list[str]]) -> None:
    number = list(RUNS).index(name)
    assert digests[0][number] == digests[1][number]
