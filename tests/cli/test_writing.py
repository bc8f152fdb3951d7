"""What the verbs write: whole files, sets of files, standard output; runs at once; a full disk, a closed pipe."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from tests.cli.receiving import tree, whole
from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.handover import bundle
from woundfhir.r4 import jsonio
from woundfhir.record import History
from woundfhir.record.files import read_yaml

PROGRAM = [sys.executable, "-m", "woundfhir"]


@pytest.fixture
def note(tmp_path: Path) -> Path:
    path = tmp_path / "story.yaml"
    path.write_bytes(story())
    return path


def one_visit_each(folder: Path) -> list[Path]:
    """One bundle for each visit of the story, of the same client."""
    record = History.of(read_yaml(story().decode(), "story"))
    out = []
    for visit in record.visits:
        alone = {key: value for key, value in visit.items() if key not in ("replaces", "replaces_reason")}
        path = folder / f"{visit['id']}.json"
        path.write_bytes(jsonio.encode(bundle(History.of({**record.data, "visits": [alone]}))))
        out.append(path)
    return out


def test_runs_at_the_same_time_lose_no_visit(tmp_path: Path) -> None:
    bundles, into = one_visit_each(tmp_path), tmp_path / "client"
    runs = [subprocess.Popen([*PROGRAM, "receive", path, "--into", into], stdout=subprocess.PIPE) for path in bundles]
    assert {run.wait(300) for run in runs} <= {0, 1}
    got = History.of(read_yaml((into / "record.yaml").read_text("utf-8"), "record"))
    assert sorted(visit["id"] for visit in got.visits) == sorted(path.stem for path in bundles)
    assert not [name for name in tree(into) if Path(name).name.startswith(".")]


def test_a_bundle_its_sheet_and_its_signature_are_written_all_or_none(said: Any, note: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "s.html"
    sheet.write_text("mine")
    code, _, err = said("bundle", note, "-o", tmp_path / "b.json", "--sheet", sheet)
    assert code == 2 and "--force" in err
    assert tree(tmp_path) == {"story.yaml": note.read_bytes(), "s.html": b"mine"}
    assert said("bundle", note, "-o", tmp_path / "b.json", "--sheet", tmp_path / "b.json")[0] == 2
    assert not (tmp_path / "b.json").exists()
    code, out, _ = said("bundle", note, "-o", tmp_path / "b.json", "--sheet", sheet, "--force")
    assert code == 0 and out == "" and b"<html" in sheet.read_bytes() and (tmp_path / "b.json").exists()


@pytest.mark.parametrize(
    "args",
    [
        ["convert", "IN", "-t", "fhir-json", "-o", "OUT", "--report", "OUT"],
        ["convert", "IN", "-t", "fhir-json", "-o", "OUT", "--coverage", "./OUT"],
        ["convert", "IN", "-t", "record-ndjson", "-o", "OUT", "--errors", "OUT"],
        ["check", "IN", "-f", "ndjson", "-o", "OUT", "--errors", "./OUT"],
    ],
)
def test_two_things_for_one_file_are_refused(args: list[str], said: Any, note: Path, tmp_path: Path) -> None:
    lines = tmp_path / "in.ndjson"
    assert said("convert", note, "-t", "ndjson", "-o", lines)[0] == 0
    out = str(tmp_path / "out.json")
    code, _, err = said(
        *(arg.replace("IN", str(lines)).replace("./OUT", f"{tmp_path}/./out.json").replace("OUT", out) for arg in args)
    )
    assert code == 2 and "it is named twice" in err and not Path(out).exists()


def test_a_report_is_written_with_what_it_is_about_or_not_at_all(said: Any, note: Path, tmp_path: Path) -> None:
    taken = tmp_path / "taken.json"
    taken.write_text("old")
    code, _, _ = said("convert", note, "-t", "fhir-json", "-o", taken, "--report", tmp_path / "report.json")
    assert code == 2 and taken.read_text() == "old" and not (tmp_path / "report.json").exists()


def test_two_inputs_of_one_name_are_two_files(said: Any, note: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    for name in ("a", "b", "c"):
        (tmp_path / name).mkdir()
    for name in ("a/x.yaml", "b/X.yaml", "c/x-2.yaml"):
        (tmp_path / name).write_bytes(note.read_bytes())
    code, _, _ = said("convert", tmp_path / "a", tmp_path / "b", tmp_path / "c", "--to", "csv", "-o", out)
    assert code == 0 and len(tree(out)) == 3
    assert len({name.casefold() for name in tree(out)}) == 3


@pytest.mark.parametrize(
    "args",
    [
        ("check", "{}", "-o", "-"),
        ("convert", "{}", "--to", "csv", "-o", "-"),
        ("bundle", "{}", "-o", "-"),
        ("bundle", "{}", "-o", "{}.out", "--sheet", "-.html"),
        ("form", "-o", "-"),
        ("trend", "{}", "--wound", "W1", "--svg", "-"),
        ("profiles", "--package", "-"),
    ],
)
def test_a_hyphen_is_standard_output_for_every_verb(args: tuple[str, ...], note: Path, tmp_path: Path) -> None:
    filled = [arg.replace("{}", str(note)) for arg in args]
    told = subprocess.run([*PROGRAM, *filled], capture_output=True, cwd=tmp_path, check=False)
    assert told.returncode in (0, 1), told.stderr
    assert not (tmp_path / "-").exists()
    assert told.stdout or "-.html" in args


@pytest.mark.parametrize("verb", ["check", "trend", "convert", "bundle", "compare", "explain", "catalogue", "receive"])
def test_a_full_standard_output_is_reported_and_exits_two(verb: str, note: Path, tmp_path: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    came = tmp_path / "came.json"
    came.write_bytes(jsonio.encode(bundle(whole())))
    args = {
        "convert": [note, "--to", "csv"],
        "compare": [note, came],
        "explain": [],
        "catalogue": [],
        "receive": [came],
    }.get(verb, [note])
    with Path("/dev/full").open("wb") as full:
        told = subprocess.run([*PROGRAM, verb, *args], stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert told.returncode == 2
    assert "standard output" in told.stderr and "No space left" in told.stderr and "Traceback" not in told.stderr


@pytest.mark.parametrize("verb", ["convert", "check", "catalogue", "explain", "--help"])
def test_a_reader_that_stops_early_ends_it_silently(verb: str, note: Path) -> None:
    args = {"convert": [note, "--to", "csv"], "check": [note]}.get(verb, [])
    read, write = os.pipe()
    os.close(read)
    told = subprocess.run([*PROGRAM, verb, *args], stdout=write, stderr=subprocess.PIPE, text=True, check=False)
    os.close(write)
    assert told.returncode == 141 and told.stderr == ""  # 128 + 13, as the shell has it of SIGPIPE


def test_a_closed_standard_output_is_reported(note: Path) -> None:
    told = subprocess.run(
        ["sh", "-c", f"{sys.executable} -m woundfhir check {note} >&-"], capture_output=True, text=True, check=False
    )
    assert told.returncode == 2 and "Traceback" not in told.stderr


def test_the_file_of_another_user_stays_theirs(said: Any, note: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    out.write_bytes(b"old")
    out.chmod(0o600)
    assert said("convert", note, "--to", "csv", "-o", out, "--force")[0] == 0
    assert out.stat().st_mode & 0o777 == 0o600 and out.stat().st_uid == os.getuid()


# -- the outermost net -----------------------------------------------------------------------------


def test_what_nobody_foresaw_is_a_fault_of_ours_without_its_text(
    said: Any, note: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise LookupError("Example-Rowan 1948-03")

    monkeypatch.setattr("woundfhir.report.received.judge", broken)
    code, out, err = said("check", note)
    assert code == 3 and out == ""
    assert "a fault of ours: LookupError (report/received.py, line " in err and "WOUNDFHIR_DEBUG" in err
    assert "Rowan" not in err and "1948" not in err


def test_the_traceback_is_shown_when_asked_for(
    note: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise LookupError("what it holds")

    monkeypatch.setattr("woundfhir.report.received.judge", broken)
    monkeypatch.setenv("WOUNDFHIR_DEBUG", "1")
    assert run(["check", str(note)]) == 3
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGHUP, 129)])
def test_stopped_by_a_signal_it_writes_nothing_and_leaves_nothing(
    number: signal.Signals, code: int, tmp_path: Path
) -> None:
    command = [*PROGRAM, "convert", "-", "--to", "csv", "-o", str(tmp_path / "out.csv")]
    program = subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.PIPE)
    assert program.stdin is not None and program.stderr is not None
    program.stdin.write(b"woundfhir: 1")
    program.stdin.flush()
    time.sleep(1.5)  # it waits for the rest of its input by now
    program.send_signal(number)
    err = program.stderr.read().decode()
    assert program.wait(30) == code and "stopped" in err and "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_a_message_of_click_keeps_to_its_line(said: Any) -> None:
    code, _, err = said("check\nwoundfhir: Complete.\x1b[31m")
    assert (
        code == 2 and "\x1b" not in err and not any(line.startswith("woundfhir: Complete") for line in err.splitlines())
    )
