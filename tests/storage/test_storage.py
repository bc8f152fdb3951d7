"""The one writer: modes, links, devices, sets of files, the lock, and what is left after a kill.

What the system does (umask, rename, flock, SIGKILL) is POSIX.1-2017; the expectations follow from it.
"""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from woundfhir import storage
from woundfhir.errors import InputError
from woundfhir.storage import locked, refuse_taken, save, save_all, staged
from woundfhir.storage.lock import LOCK


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def names(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


@pytest.mark.parametrize("mask", [0o022, 0o077, 0o027, 0o002])
def test_a_new_file_has_the_mode_that_the_umask_leaves(tmp_path: Path, mask: int) -> None:
    old = os.umask(mask)
    try:
        save(b"x", tmp_path / "new")
    finally:
        os.umask(old)
    assert mode(tmp_path / "new") == 0o666 & ~mask


@pytest.mark.parametrize("kept", [0o600, 0o640, 0o664, 0o444])
def test_a_replaced_file_keeps_its_mode(tmp_path: Path, kept: int) -> None:
    path = tmp_path / "note"
    path.write_bytes(b"old")
    path.chmod(kept)
    save(b"new", path, force=True)
    assert path.read_bytes() == b"new" and mode(path) == kept and names(tmp_path) == ["note"]


def test_a_file_that_is_there_needs_force(tmp_path: Path) -> None:
    path = tmp_path / "note"
    path.write_bytes(b"old")
    for content in (b"new", b"old"):
        with pytest.raises(InputError, match=r"there already.*--force"):
            save(content, path)
    with pytest.raises(InputError, match="--force"):
        refuse_taken(path, force=False)
    assert path.read_bytes() == b"old" and names(tmp_path) == ["note"]


def test_a_link_stays_and_the_file_behind_it_is_replaced(tmp_path: Path) -> None:
    real = tmp_path / "real"
    real.write_bytes(b"old")
    real.chmod(0o640)
    link = tmp_path / "link"
    link.symlink_to("real")
    with pytest.raises(InputError, match="--force"):
        save(b"new", link)
    save(b"new", link, force=True)
    assert link.is_symlink() and real.read_bytes() == b"new" and mode(real) == 0o640
    to_come = tmp_path / "to-come"
    to_come.symlink_to(tmp_path / "not-yet")
    save(b"first", to_come)
    assert (tmp_path / "not-yet").read_bytes() == b"first" and to_come.is_symlink()


def test_links_in_a_circle_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    with pytest.raises(InputError):
        save(b"x", tmp_path / "a", force=True)


@pytest.mark.parametrize("name", ["x" * 300, "a\0b", "folder"])
def test_what_can_be_no_file_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError) as told:
        save(b"x", tmp_path / name, force=True)
    assert len(str(told.value)) < 1000 and "\0" not in str(told.value)
    assert names(tmp_path) == []


def test_a_pipe_is_written_through(tmp_path: Path) -> None:
    fifo = tmp_path / "fifo"
    os.mkfifo(fifo)
    got: list[bytes] = []
    reader = threading.Thread(target=lambda: got.append(fifo.read_bytes()))
    reader.start()
    save(b"x" * 200_000, fifo)
    reader.join(10)
    assert got == [b"x" * 200_000] and stat.S_ISFIFO(fifo.stat().st_mode)


def test_a_full_device_is_reported(tmp_path: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    with pytest.raises(InputError, match="No space left"):
        save(b"x" * 100_000, Path("/dev/full"))
    save(b"x", Path("/dev/null"))


def test_standard_output_by_its_name_is_standard_output(tmp_path: Path) -> None:
    program = (
        "from pathlib import Path; from woundfhir.storage import save; print('a'); save(b'b', Path('/dev/stdout'))"
    )
    target = tmp_path / "out"
    with target.open("wb") as out:
        out.write(b"first ")
        out.flush()
        subprocess.run([sys.executable, "-c", program], stdout=out, check=True)
    assert target.read_bytes() == b"first a\nb"


# -- several files ---------------------------------------------------------------------------------


def test_several_files_are_all_written_or_none(tmp_path: Path) -> None:
    (tmp_path / "b").write_bytes(b"old")
    files = {tmp_path / "a": b"1", tmp_path / "b": b"2", tmp_path / "deep" / "c": b"3"}
    with pytest.raises(InputError, match="--force"):
        save_all(files)
    assert names(tmp_path) == ["b"] and not (tmp_path / "deep").exists()
    assert save_all(files, may_change=[tmp_path / "b"]) == list(files)
    assert names(tmp_path) == ["a", "b", "deep/c"] and (tmp_path / "b").read_bytes() == b"2"
    assert save_all(files, same=True) == []


def test_two_outputs_that_are_one_file_are_refused(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to("a")
    with pytest.raises(InputError, match="named twice"):
        save_all({tmp_path / "a": b"1", tmp_path / "link": b"2"}, force=True)
    assert names(tmp_path) == []


def test_a_failure_while_staging_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    calls = []

    def put(path: Path, content: bytes, target: Path) -> None:
        calls.append(path)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        path.write_bytes(content)

    monkeypatch.setattr(staged, "put", put)
    with pytest.raises(InputError, match="No space left"):
        save_all({tmp_path / "a": b"1", tmp_path / "b": b"2"})
    assert names(tmp_path) == []


_KILLED = """
import os, signal, sys
from pathlib import Path
from woundfhir.storage import save_all
step, seen = int(sys.argv[2]), 0
def hook(event, args):
    global seen
    if event in ("os.rename", "os.remove") or (event == "open" and args[2] and args[2] & (os.O_WRONLY | os.O_RDWR)):
        seen += 1
        if seen == step:
            os.kill(os.getpid(), signal.SIGKILL)
sys.addaudithook(hook)
folder = Path(sys.argv[1])
save_all({folder / "a": b"new a", folder / "in" / "b": b"new b", folder / "c": b"new c"}, force=True)
"""


@pytest.mark.parametrize("step", range(1, 20))
def test_a_killed_run_is_finished_or_undone_by_the_next(tmp_path: Path, step: int) -> None:
    (tmp_path / "a").write_bytes(b"old a")
    ended = subprocess.run([sys.executable, "-c", _KILLED, str(tmp_path), str(step)], check=False).returncode
    assert ended in (0, -signal.SIGKILL)
    for folder in (tmp_path, tmp_path / "in"):
        if folder.exists():
            with locked(folder):
                pass
    a, c = tmp_path / "a", tmp_path / "c"
    assert (a.read_bytes(), c.exists() and c.read_bytes()) in ((b"old a", False), (b"new a", b"new c"))
    assert set(names(tmp_path)) <= {"a", "c", "in/b"}, "what was left over is cleared away"


def test_what_somebody_changed_since_is_not_written_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a").write_bytes(b"old")
    with monkeypatch.context() as patch:
        patch.setattr(storage, "_place", lambda sets: None)  # as a run that is killed before the first renaming
        save(b"new", tmp_path / "a", force=True)
    (tmp_path / "a").write_bytes(b"by hand")
    with locked(tmp_path):
        pass
    assert (tmp_path / "a").read_bytes() == b"by hand" and names(tmp_path) == ["a"]


# -- the lock --------------------------------------------------------------------------------------


def test_a_folder_is_held_by_one_run_at_a_time(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from woundfhir.storage import locked, save_all\n"
        "folder = Path(sys.argv[1])\n"
        "for _ in range(20):\n"
        "    with locked(folder):\n"
        "        path = folder / 'count'\n"
        "        now = int(path.read_text()) if path.exists() else 0\n"
        "        save_all({path: str(now + 1).encode()}, force=True, held=folder)\n"
    )
    folder = tmp_path / "new"
    runs = [subprocess.Popen([sys.executable, "-c", program, str(folder)]) for _ in range(6)]
    assert [run.wait(120) for run in runs] == [0] * 6
    assert (folder / "count").read_text() == "120" and names(folder) == ["count"]


def test_a_folder_that_another_run_holds_is_reported(tmp_path: Path) -> None:
    with locked(tmp_path), pytest.raises(InputError, match="another run"), locked(tmp_path, patience=0):
        pass
    assert names(tmp_path) == []


def test_a_lock_that_a_killed_run_left_holds_nobody_up(tmp_path: Path) -> None:
    (tmp_path / LOCK).touch()
    with locked(tmp_path, patience=0):
        assert (tmp_path / LOCK).exists()
    assert names(tmp_path) == []
