"""Streams in which something is wrong: broken lines, killed processes, files that change, options that do not fit."""

from __future__ import annotations

import io
import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.bulk.clients import BROKEN, CLIENTS, client, lines, records, with_line
from woundfhir.bulk.grouping import Grouping
from woundfhir.bulk.lines import Files
from woundfhir.bulk.work import Task, all_done
from woundfhir.cli import run
from woundfhir.errors import InputError, WoundfhirError
from woundfhir.intake.inputs import Input
from woundfhir.intake.source import read_all

Json = Any


@pytest.mark.parametrize("wrong", BROKEN.values(), ids=BROKEN)
def test_a_broken_line_ends_the_run_and_nothing_is_written(said: Any, many: Path, tmp_path: Path, wrong: bytes) -> None:
    here = with_line(many, 40, wrong)
    code, out, err = said("convert", many, "--to", "record-ndjson", "-o", tmp_path / "out", "--workers", 2)
    assert (code, out) == (2, "")
    assert f"{many}, line {here}" in err
    assert "Tremblay" not in err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["many.ndjson"]


@pytest.mark.parametrize("wrong", BROKEN.values(), ids=BROKEN)
def test_a_broken_line_is_listed_and_the_others_are_read(said: Any, many: Path, tmp_path: Path, wrong: bytes) -> None:
    expected = records(many)
    here = with_line(many, 40, wrong)
    out, errors = tmp_path / "out.record.ndjson", tmp_path / "errors.tsv"
    code, _, _ = said("convert", many, "--to", "record-ndjson", "-o", out, "--errors", errors, "--workers", 2)
    head, row = errors.read_text().splitlines()
    assert (code, head) == (1, "file\tline\treason")
    assert row.startswith(f"{many}\t{here}\t")
    assert "Tremblay" not in row
    assert records(out) == expected


def test_a_record_that_cannot_be_read_is_named_by_its_line(said: Any, tmp_path: Path) -> None:
    given, errors = tmp_path / "many.record.ndjson", tmp_path / "errors.tsv"
    given.write_text("".join(client(n).json() + "\n" for n in range(3)).replace('"woundfhir":1', '"woundfhir":9', 1))
    out = tmp_path / "out.ndjson"
    code, _, _ = said("convert", given, "-o", out, "--errors", errors)
    assert code == 1
    assert errors.read_text().splitlines()[1].startswith(f"{given}\t1\t")
    assert len(records(out)) == 2


@pytest.mark.parametrize("form", ["ndjson", "record-ndjson"])
def test_a_line_that_is_too_long_is_listed_and_the_others_are_read(
    said: Any, many: Path, tmp_path: Path, form: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line is read in parts and never held as a whole; here the limit is 20 kB."""
    monkeypatch.setattr("woundfhir.bulk.lines.LINE_LIMIT", 20_000)
    expected, records_of = records(many), tmp_path / "many.record.ndjson"
    records_of.write_text("".join(client(number).json() + "\n" for number in range(CLIENTS)))
    given = many if form == "ndjson" else records_of
    here = with_line(given, 3, b'{"resourceType":"Tremblay","x":"' + b"a" * 3_000_000 + b'"}')
    out, errors = tmp_path / "out.record.ndjson", tmp_path / "errors.tsv"
    code, _, err = said("convert", given, "--to", "record-ndjson", "-o", out, "--errors", errors, "--workers", 2)
    assert (code, "Tremblay" in err + errors.read_text()) == (1, False)
    (row,) = errors.read_text().splitlines()[1:]
    assert row.startswith(f"{given}\t{here}\t")
    assert "a line" in row
    assert records(out) == expected
    code, _, err = said("convert", given, "--to", "record-ndjson", "-o", tmp_path / "none", "--workers", 2)
    assert (code, f"{given}, line {here}" in err, (tmp_path / "none").exists()) == (2, True, False)


def test_bytes_of_zero_are_no_line_of_a_client(said: Any, many: Path, tmp_path: Path) -> None:
    """What a power cut leaves at the end of a file that was being written."""
    expected = records(many)
    many.write_bytes(many.read_bytes() + b"\0" * 4096)
    out, errors = tmp_path / "out.record.ndjson", tmp_path / "errors.tsv"
    assert said("convert", many, "--to", "record-ndjson", "-o", out, "--errors", errors)[0] == 1
    assert len(errors.read_text().splitlines()) == 2
    assert records(out) == expected


def test_two_runs_into_one_output_wait_for_each_other(said: Any, many: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.record.ndjson"
    children = []
    for _ in range(2):
        child = os.fork()
        if child == 0:
            os._exit(run(["convert", str(many), "--to", "record-ndjson", "-o", str(out), "--workers", "1"]))
        children.append(child)
    codes = sorted(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children)
    assert codes == [0, 2]  # the second finds the file of the first, and leaves it
    assert records(out) == records(many)
    assert {path.name for path in tmp_path.iterdir()} == {many.name, out.name}


def test_a_folder_that_vanishes_is_said_and_nothing_is_written_elsewhere(
    said: Any, many: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    read = Grouping.read

    def gone(self: Grouping, *given: Any) -> None:
        shutil.rmtree(folder)
        read(self, *given)

    monkeypatch.setattr(Grouping, "read", gone)
    code, _, err = said("convert", many, "--to", "record-ndjson", "-o", folder / "a", "--workers", 1)
    assert (code, "cannot be written" in err) == (2, True)
    assert {path.name for path in tmp_path.iterdir()} == {many.name}


def test_a_file_that_exists_stays_as_it_is(said: Any, many: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.record.ndjson"
    out.write_text("mine")
    code, _, err = said("convert", many, "-o", out, "--to", "record-ndjson", "--workers", 1)
    assert code == 2
    assert "a file of this name is there already" in err
    assert out.read_text() == "mine"
    assert said("convert", many, "-o", out, "--to", "record-ndjson", "--workers", 1, "--force")[0] == 0
    assert len(records(out)) == CLIENTS


def die(_: Input) -> list[str]:
    """End the process that asks, as an administrator or a full memory does."""
    os.kill(os.getpid(), signal.SIGKILL)
    return []


def test_a_worker_that_is_killed_is_said() -> None:
    tasks = [Task(f"client {number}", lines(number), "ndjson", "record-ndjson", die) for number in range(1, 9)]
    with pytest.raises(WoundfhirError, match="a worker was stopped"):
        list(all_done(tasks, 2))


def test_an_index_without_room_is_said(many: Path) -> None:
    with Files([many]) as files, Grouping(files) as grouping:
        grouping._index.execute("PRAGMA max_page_count=3")
        with pytest.raises(WoundfhirError, match="TMPDIR"):
            grouping.read()


def test_a_run_that_is_killed_leaves_no_index(many: Path, tmp_path: Path) -> None:
    """Common practice, no source: what nobody can clean up after SIGKILL must have no name."""
    room = tmp_path / "room"
    room.mkdir()
    code = (
        "import os, signal, sys\n"
        "from woundfhir.bulk.grouping import Grouping\n"
        "from woundfhir.bulk.lines import Files\n"
        "with Files(sys.argv[1:]) as files, Grouping(files) as grouping:\n"
        "    grouping._index.execute('PRAGMA cache_size=1')\n"
        "    grouping.read()\n"
        "    grouping._index.execute('CREATE TABLE large AS SELECT randomblob(4000000) AS filling')\n"
        "    held = [os.readlink(f'/proc/self/fd/{one}') for one in os.listdir('/proc/self/fd')\n"
        "            if os.path.islink(f'/proc/self/fd/{one}')]\n"
        "    print(any(one.startswith(os.environ['TMPDIR']) for one in held), flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    where = {**os.environ, "TMPDIR": str(room), "SQLITE_TMPDIR": str(room)}
    ended = subprocess.run([sys.executable, "-c", code, many], env=where, capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stdout) == (-signal.SIGKILL, "True\n"), ended.stderr
    assert list(room.iterdir()) == []


def test_a_file_that_is_cut_while_it_is_read_is_refused(many: Path) -> None:
    with Files([many]) as files, Grouping(files) as grouping:
        grouping.read()
        many.write_bytes(many.read_bytes()[:1000])
        with pytest.raises(InputError, match="it has become shorter"):
            [group.content for group in grouping.groups()]


@pytest.mark.parametrize("workers", [1, 2])
def test_a_file_that_is_cut_before_its_clients_are_read_ends_the_run(
    said: Any, many: Path, tmp_path: Path, workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is no fault of one client, which --errors would list."""
    read = Grouping.read

    def cut(self: Grouping, *given: Any) -> None:
        read(self, *given)
        many.write_bytes(many.read_bytes()[:1000])

    monkeypatch.setattr(Grouping, "read", cut)
    out, errors = tmp_path / "out.record.ndjson", tmp_path / "errors.tsv"
    code, _, err = said("convert", many, "-o", out, "--errors", errors, "--workers", workers)
    assert (code, "it has become shorter" in err, out.exists()) == (2, True, False)


def test_what_is_added_to_a_file_meanwhile_is_not_read(many: Path) -> None:
    with Files([many]) as files, Grouping(files) as grouping:
        with many.open("ab") as file:
            file.write(lines(100))
        grouping.read()
        assert len(list(grouping.groups())) == CLIENTS


def test_standard_input_that_must_be_read_as_a_whole_is_not_read_twice(
    said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = io.TextIOWrapper(
        io.BytesIO(b'{"resourceType":"Observation","id":"a"}\n{"resourceType":"Group","id":"b"}\n')
    )
    monkeypatch.setattr("sys.stdin", given)
    code, _, err = said("convert", "-", "--to", "record-ndjson", "-o", tmp_path / "out", "--workers", 2)
    assert code == 2
    assert "naming its Patient" in err
    assert not (tmp_path / "out").exists()


def test_two_records_of_one_client_are_not_written_as_one(said: Any, tmp_path: Path) -> None:
    given = tmp_path / "twice.record.ndjson"
    given.write_text(client(1).json() + "\n" + client(1).json() + "\n")
    code, _, err = said("convert", given, "--to", "ndjson", "-o", tmp_path / "out", "--workers", 1)
    assert code == 2
    assert "a format that keeps these clients apart" in err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "patient",
    [
        {"sex": "female"},
        {"name": "Invented Client"},
        {"identifiers": [{"system": "https://example.org/numbers", "value": "999999"}]},
    ],
)
def test_clients_whom_nothing_names_are_kept_apart(said: Any, tmp_path: Path, patient: Json) -> None:
    """A number that stands for "unknown" names nobody; what differs in the notes still keeps two such clients apart."""
    given, out = tmp_path / "given.record.ndjson", tmp_path / "out.ndjson"
    notes = [{**client(number).data, "patient": patient} for number in (1, 2)]
    given.write_text("".join(f"{json.dumps(one)}\n" for one in notes))
    assert said("convert", given, "--to", "ndjson", "-o", out, "--workers", 1)[0] == 0
    assert [one.history.data for one in read_all([out])] == [one.history.data for one in read_all([given])]


def test_options_that_only_a_stream_serves_are_refused_elsewhere(said: Any, many: Path, tmp_path: Path) -> None:
    assert said("convert", many, "--to", "csv", "-o", tmp_path / "o.csv", "--errors", tmp_path / "e.tsv")[0] == 2
    assert said("convert", many, "--to", "ndjson", "-o", tmp_path / "o", "--by-type")[0] == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == ["many.ndjson"]
