"""Inputs of hostile size or shape: one clear refusal, 2 and not 3, without much memory or time.

The shapes are common practice in testing parsers (billion laughs: CWE-776; deep nesting: CWE-674; uncontrolled
resource use: CWE-400); no input comes from a project of this kind. Memory is the peak of the whole process.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from woundfhir.cli import run

PROGRAM = [sys.executable, "-m", "woundfhir"]
#: Runs a command and writes the peak of its memory in KB to a file. Started by itself, since the peak of a child begins
#: at the memory of the process that starts it, and that of a worker of the tests is large.
MEASURED = """
import resource, subprocess, sys
code = subprocess.run(sys.argv[2:], check=False).returncode
open(sys.argv[1], "w").write(str(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss))
sys.exit(code)
"""
R4 = 'xmlns="http://hl7.org/fhir"'
LAUGHS = "a: &a [x, x]\n" + "".join(
    f"{chr(98 + n)}: &{chr(98 + n)} [*{chr(97 + n)}, *{chr(97 + n)}]\n" for n in range(20)
)
HOSTILE = {
    "a column below an id.csv": "woundfhir,wound.id.1,visit.id\n1,a,b\n",
    "a column above an id.csv": "woundfhir,wound,visit.id\n1,a,b\n",
    "a column with a large number.csv": "woundfhir,patient.identifiers." + "9" * 400 + ".value\n1,x\n",
    "a column with a long name.csv": "woundfhir,patient." + "n" * 5000 + "\n1,x\n",
    "a long cell.csv": "woundfhir,patient.note\n1," + "x" * 2_000_000 + "\n",
    "many columns.csv": "woundfhir," + ",".join(f"patient.x{n}" for n in range(20_000)) + "\n1\n",
    "a row of commas.csv": "woundfhir,patient.note\n1" + "," * 30_000_000 + "\n",
    "many cells.csv": "woundfhir,patient.note\n" + ("," * 4000 + "\n") * 2000,
    "nested.json": '{"woundfhir": 1, "patient": ' + "[" * 5000 + "]" * 5000 + "}",
    "nested and open.json": "[" * 5000,
    "nested.yaml": "woundfhir: 1\npatient: " + "[" * 5000 + "]" * 5000 + "\n",
    "nested and open.yaml": "woundfhir: 1\npatient: " + "{a: " * 100_000,
    "laughs.yaml": "woundfhir: 1\npatient: {}\n" + LAUGHS,
    "many nodes.yaml": "woundfhir: 1\nextra:\n" + "- a\n" * 3_000_000,
    "many lists.json": '{"woundfhir": 1, "extra": [' + "[]," * 11_000_000 + "[]]}",
    "nested.xml": f"<Patient {R4}>" + "<a>" * 100_000,
    "attributes.xml": f"<Patient {R4} " + " ".join(f'a{n}="x"' for n in range(200_000)) + "/>",
    "laughs.xml": f'<!DOCTYPE a [<!ENTITY b "cc"><!ENTITY d "&b;&b;">]><Patient {R4}>&d;</Patient>',
    "many elements.xml": f"<Patient {R4}>" + "<a/>" * 11_000_000 + "</Patient>",
    "an id of two kinds.json": '{"woundfhir": 1, "patient": {}, "wounds": [{"id": ["x"]}]}',
    "a long id.json": '{"woundfhir": 1, "patient": {}, "wounds": [{"id": "' + "x" * 1000 + '"}]}',
    "resource type.json": '{"resourceType": ["Patient"]}',
    "entries.json": '{"resourceType": "Bundle", "type": "collection", "entry": [5, null, "x", {"resource": 5}]}',
    "nested.ndjson": '{"resourceType": "Patient", "extension": ' + "[" * 5000 + "]" * 5000 + "}\n{}\n",
    "nothing.json": "",
    "zero bytes.json": "\0\0\0",
}


def measured(folder: Path, *args: Any, stdin: Any = None) -> tuple[subprocess.CompletedProcess[str], int]:
    """Run the command line; return how it ended, and the peak of its memory in KB."""
    note = folder / "peak.txt"
    command = [sys.executable, "-c", MEASURED, note, *PROGRAM, *args]
    done = subprocess.run(command, stdin=stdin, capture_output=True, text=True, timeout=120, check=False)
    return done, int(note.read_text())


@pytest.mark.parametrize("name", HOSTILE)
def test_it_is_refused_with_one_message_and_without_much_memory(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_text(HOSTILE[name], "utf-8")
    done, peak = measured(tmp_path, "check", path)
    assert done.returncode == 2, done.stderr[-300:]
    assert done.stderr.startswith(f"woundfhir: {path}") and "expected" in done.stderr and len(done.stderr) < 1500
    assert peak < 1_000_000, f"{peak} KB"


@pytest.mark.parametrize("where", ["-", "/dev/zero"])
def test_a_stream_without_an_end_is_refused(where: str, tmp_path: Path) -> None:
    if not Path("/dev/zero").exists():
        pytest.skip("no /dev/zero here")
    with Path("/dev/zero").open("rb") as zeros:
        done, peak = measured(tmp_path, "check", where, stdin=zeros)
    assert done.returncode == 2 and "at most 200 MB" in done.stderr
    assert peak < 1_000_000, f"{peak} KB"


@pytest.mark.parametrize("option", ["--policy", "--checklist"])
def test_a_device_is_no_policy(option: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    if not Path("/dev/zero").exists():
        pytest.skip("no /dev/zero here")
    (tmp_path / "note.yaml").write_text("woundfhir: 1\npatient: {}\n")
    assert run(["check", str(tmp_path / "note.yaml"), option, "/dev/zero"]) == 2
    assert "at most 10 MB" in capsys.readouterr().err


@pytest.mark.parametrize("url", ['["x"]', "5", "{}"])
def test_a_full_url_that_is_no_text_is_refused_by_receive(
    url: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "b.json"
    entry = f'"fullUrl": {url}, "resource": {{"resourceType": "Patient", "id": "a"}}'
    path.write_text(f'{{"resourceType": "Bundle", "type": "collection", "entry": [{{{entry}}}]}}')
    assert run(["receive", str(path)]) == 2
    assert "fullUrl" in capsys.readouterr().err
