"""A run over many clients that is stopped goes on to the bytes of one that was not: nothing twice, nothing lost.

The oracle is the run that nobody stops. Kills are real (SIGKILL), at every change that the process makes to a file.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from tests.bulk.clients import CLIENTS, client, lines
from tests.bulk.test_apart import MAP, table
from woundfhir.bulk import converting
from woundfhir.cli import run
from woundfhir.storage.lock import LOCK, PATIENCE

Tree = dict[str, bytes]
KINDS = {
    "records": ("--to", "record-ndjson", "-o", "out/a.record.ndjson"),
    "packed": ("--to", "record-ndjson", "-o", "out/a.record.ndjson.gz"),
    "FHIR and errors": ("--to", "ndjson", "-o", "out/a.ndjson", "--errors", "wrong/e.tsv"),
    "by type, packed": ("--to", "ndjson", "--by-type", "--pack", "zst", "-o", "out", "--errors", "out/e.tsv"),
}
FILE_EVENTS = ("os.rename", "os.remove", "os.truncate")


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the input, in which runs are made; checkpoints stand after every client or two."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(converting, "EVERY", 600)
    for name in ("out", "wrong", "in"):
        Path(name).mkdir()
    Path("in/a.ndjson").write_bytes(lines(*range(4)) + b"{broken\n" + lines(*range(4, CLIENTS)))
    Path("in/records.record.ndjson").write_text("".join(client(n).json() + "\n" for n in range(CLIENTS)))
    return tmp_path


def written(*folders: str) -> Tree:
    return {
        str(path): path.read_bytes() for name in folders for path in sorted(Path(name).iterdir()) if path.name != LOCK
    }


def convert(given: tuple[str, ...], *more: str) -> int:
    errors = () if "--errors" in given else ("--errors", "wrong/e.tsv")
    return run(["convert", "in/a.ndjson", *given, *errors, "--resume", *more])


def clear() -> None:
    for path in [*Path("out").iterdir(), *Path("wrong").iterdir()]:
        path.unlink()


def in_child(work: Callable[[], object]) -> int:
    """Run in a process of its own; return its end as ``waitpid`` gives it."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            code = int(work() or 0)  # type: ignore[call-overload]
        finally:
            os._exit(code)
    return os.waitpid(child, 0)[1]


def killed_at(step: int, work: Callable[[], object]) -> bool:
    """Kill a run before its n-th change to a file here; return whether it came to that."""
    here, seen = Path.cwd(), 0

    def hook(event: str, args: tuple[Any, ...]) -> None:
        nonlocal seen
        if event == "open":
            ours = isinstance(args[0], str) and bool((args[2] or 0) & (os.O_WRONLY | os.O_RDWR))
        else:
            ours = event in FILE_EVENTS
        if ours and (isinstance(args[0], int) or (here / os.fspath(args[0])).is_relative_to(here)):
            seen += 1
            if seen == step:
                os.kill(os.getpid(), signal.SIGKILL)

    def hooked() -> object:
        sys.addaudithook(hook)
        return work()

    return os.WIFSIGNALED(in_child(hooked))


@pytest.mark.parametrize("given", KINDS.values(), ids=KINDS)
def test_a_run_that_is_killed_anywhere_goes_on_to_the_same_bytes(place: Path, given: tuple[str, ...]) -> None:
    assert convert(given) == 1
    whole = written("out", "wrong")
    assert not [name for name in whole if ".woundfhir" in name]
    step, went_on = 1, 0
    while True:
        clear()
        if not killed_at(step, lambda: convert(given)):
            break
        went_on += any(Path("out").glob("*.resume"))
        assert convert(given, "--force") == 1
        assert written("out", "wrong") == whole, step
        step += 3
    assert went_on > 2


def test_a_run_that_is_killed_again_and_again_goes_on_with_any_number_of_workers(place: Path) -> None:
    given = KINDS["by type, packed"]
    convert(given)
    whole = written("out")
    clear()
    done: list[int] = []
    for step in (9, 12, 15, 18):
        assert killed_at(step, lambda: convert(given, "--force"))
        done += [json.loads(one.read_bytes())["more"]["clients"] for one in Path("out").glob("*.resume")]
    assert done == sorted(done)
    assert convert(given, "--force", "--workers", "3") == 1
    assert written("out") == whole


def test_records_that_are_read_line_by_line_go_on(place: Path) -> None:
    given = ("convert", "in/records.record.ndjson", "--to", "ndjson", "-o", "out/a.ndjson", "--resume")
    assert run([*given]) == 0
    whole = written("out")
    for step in range(4, 16, 2):
        clear()
        assert killed_at(step, lambda: run([*given]))
        assert run([*given, "--force"]) == 0
        assert written("out") == whole


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_table_with_a_map_goes_on(place: Path, form: str) -> None:
    Path("map.toml").write_text(MAP)
    table(Path("in"), form)
    given = ("convert", f"in/table.{form}", "--map", "map.toml", "-o", "out/a.record.ndjson", "--resume")
    code = run([*given])
    whole = written("out")
    for step in (6, 20, 40):
        clear()
        assert killed_at(step, lambda: run([*given]))
        assert any(Path("out").glob("*.resume"))
        assert run([*given, "--force"]) == code
        assert written("out") == whole


@pytest.mark.parametrize("form", ["ndjson", "text"])
def test_a_report_goes_on_with_the_exit_code_of_all_of_it(place: Path, form: str) -> None:
    given = ("check", "in/records.record.ndjson", "--format", form, "-o", "out/report", "--resume")
    code = run([*given])
    whole = written("out")
    assert (code, len(whole["out/report"]) > 3_000) == (1, True)
    went_on = 0
    for step in range(4, 16, 2):
        clear()
        assert killed_at(step, lambda: run([*given]))
        went_on += any(Path("out").glob("*.resume"))
        assert run([*given, "--force"]) == code
        assert written("out") == whole
    assert went_on > 2


def test_another_policy_is_another_report(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    policy = place / "policy.toml"
    ours = 'name = "ours"\nversion = "1"\ntitle = "{}"\nextends = "ontario"\n'
    policy.write_text(ours.format("Ours (invented)"))
    given = ("check", "in/records.record.ndjson", "--format", "ndjson", "-o", "out/report", "--policy", str(policy))
    assert killed_at(12, lambda: run([*given, "--resume"]))
    assert any(Path("out").glob("*.resume"))
    policy.write_text(ours.format("Ours, changed (invented)"))
    capsys.readouterr()
    assert run([*given, "--resume", "--force"]) == 2
    assert "the options" in capsys.readouterr().err


def test_a_client_who_came_before_the_stop_is_known_after_it(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two records of one client are refused as FHIR (``not_apart``), also where a stop lies between them."""
    twice = Path("in/twice.record.ndjson")
    twice.write_text(Path("in/records.record.ndjson").read_text() + client(0).json() + "\n")
    given = ("convert", str(twice), "--to", "ndjson", "-o", "out/a.ndjson", "--resume")
    assert killed_at(10, lambda: run([*given]))
    assert list(Path("out").glob("*.resume"))
    assert run([*given]) == 2
    assert "keeps these clients apart" in capsys.readouterr().err
    assert written("out") == {}


def _stopped(place: Path) -> None:
    assert killed_at(12, lambda: convert(KINDS["records"]))
    assert list(Path("out").glob("*.resume"))


CHANGES: dict[str, tuple[Callable[[], object], tuple[str, ...], str]] = {
    "input": (lambda: os.truncate("in/a.ndjson", Path("in/a.ndjson").stat().st_size - 1), (), "the input"),
    "options": (lambda: None, ("--lang", "fr"), "options"),
}


@pytest.mark.parametrize(("change", "more", "word"), CHANGES.values(), ids=CHANGES)
def test_what_has_changed_since_is_named_and_nothing_is_joined(
    place: Path, capsys: pytest.CaptureFixture[str], change: Callable[[], object], more: tuple[str, ...], word: str
) -> None:
    _stopped(place)
    before = written("out")
    change()
    assert convert(KINDS["records"], *more) == 2
    assert word in capsys.readouterr().err
    assert written("out") == before


def test_bytes_that_somebody_changed_are_not_gone_on_with(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _stopped(place)
    part = max(Path("out").glob("*.part"), key=lambda one: one.stat().st_size)
    content = bytearray(part.read_bytes())
    content[10] ^= 1
    part.write_bytes(content)
    assert convert(KINDS["records"]) == 2
    assert "changed since" in capsys.readouterr().err


def test_without_resume_the_run_begins_anew_and_what_was_kept_is_removed(place: Path) -> None:
    _stopped(place)
    given = ("convert", "in/a.ndjson", *KINDS["records"], "--errors", "wrong/e.tsv")
    assert run([*given]) == 1
    first = written("out", "wrong")
    clear()
    assert convert(KINDS["records"]) == 1
    assert written("out", "wrong") == first
    assert len(first) == 2


def test_another_run_in_the_folder_leaves_a_checkpoint_as_it_is(place: Path) -> None:
    _stopped(place)
    before = written("out")
    assert run(["convert", "in/records.record.ndjson", "-o", "out/b.record.ndjson", "--workers", "1"]) == 0
    assert before.items() <= written("out").items()
    assert convert(KINDS["records"]) == 1


def test_a_full_disk_keeps_the_checkpoint_and_says_so(place: Path, capfd: pytest.CaptureFixture[str]) -> None:
    given = KINDS["records"]
    convert(given)
    whole = written("out", "wrong")
    clear()
    size = len(whole["out/a.record.ndjson"])

    def full() -> int:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size * 4 // 5, size * 4 // 5))
        return convert(given)

    assert os.waitstatus_to_exitcode(in_child(full)) == 2
    err = capfd.readouterr().err
    assert "a.record.ndjson" in err and "cannot be written (File too large)" in err
    assert "standard output" not in err
    assert "the same command goes on" in err
    assert convert(given) == 1
    assert written("out", "wrong") == whole


def test_what_cannot_be_gone_on_with_is_refused(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for more in (("--to", "record-ndjson"), ("--to", "parquet", "-o", "out")):
        assert run(["convert", "in/a.ndjson", *more, "--resume"]) == 2
        assert "--resume" in capsys.readouterr().err
    assert written("out") == {}


def test_workers_end_with_a_parent_that_is_killed_and_the_same_command_goes_on(place: Path) -> None:
    """A process of its own, killed from outside: workers that lived on would hold the lock of the folder."""
    Path("in/a.ndjson").write_bytes(lines(*range(150)))
    given = ("--to", "ndjson", "-o", "out/a.ndjson", "--workers", "2")
    assert convert(given) == 0
    whole = written("out")
    clear()
    child = os.fork()
    if child == 0:
        os.setsid()
        os._exit(convert(given))
    until = time.monotonic() + 60
    while not list(Path("out").glob("*.resume")) and time.monotonic() < until:
        time.sleep(0.01)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    try:
        assert list(Path("out").glob("*.resume"))
        started = time.monotonic()
        assert convert(given) == 0
        assert time.monotonic() - started < PATIENCE  # nobody else held the folder
        assert written("out") == whole
        with pytest.raises(ProcessLookupError):
            for _ in range(100):
                os.killpg(child, 0)
                time.sleep(0.1)
    finally:
        with suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
