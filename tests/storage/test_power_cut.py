"""A power cut: what was renamed into place had reached the disk before, and the folder's entry reaches it after.

POSIX promises neither without fsync: a file may be there, whole by name and empty by content. So every rename of a
verb is watched: the file was synced before it, its folder after it. Source: fsync(2), rename(2) of the Linux manual.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest

from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.storage import save_all
from woundfhir.storage.growing import Growing

Inode = tuple[int, int]


class Disk:
    """What reached the disk, and what was renamed before it had."""

    def __init__(self) -> None:
        self.synced: set[Inode] = set()
        self.renamed: list[Path] = []
        self.early: list[str] = []
        self.waiting: set[Inode] = set()

    def sync(self, handle: int) -> None:
        found = os.fstat(handle)
        self.synced.add((found.st_dev, found.st_ino))
        self.waiting.discard((found.st_dev, found.st_ino))

    def rename(self, source: Path, target: Path) -> None:
        found = source.stat()
        if source.is_file() and (found.st_dev, found.st_ino) not in self.synced:
            self.early.append(target.name)
        self.renamed.append(target)
        folder = target.parent.stat()
        self.waiting.add((folder.st_dev, folder.st_ino))


@contextmanager
def watched(patch: pytest.MonkeyPatch) -> Iterator[Disk]:
    disk, fsync = Disk(), os.fsync
    with patch.context() as on:
        on.setattr(
            os, "fsync", lambda handle: (disk.sync(getattr(handle, "fileno", lambda: handle)()), fsync(handle))[1]
        )
        for name in ("rename", "replace"):
            plain = getattr(os, name)

            def renaming(source: Any, target: Any, *args: Any, plain: Any = plain, **more: Any) -> None:
                disk.rename(Path(source), Path(target))
                plain(source, target, *args, **more)

            on.setattr(os, name, renaming)
        yield disk


def assert_durable(disk: Disk) -> None:
    assert disk.renamed, "nothing was renamed: the watch looks at the wrong calls"
    assert disk.early == []
    assert not disk.waiting, "a folder was not synced after the last rename in it"


def test_a_set_of_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a").write_bytes(b"old")
    with watched(monkeypatch) as disk:
        save_all({tmp_path / "a": b"1", tmp_path / "b": b"2"}, force=True)
    assert_durable(disk)


def test_files_that_grow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with watched(monkeypatch) as disk, Growing([tmp_path]) as growing:
        for name in ("a", "b"):
            file = growing.open(tmp_path / name)
            file.write(b"x" * 100_000)
            file.end()
    assert_durable(disk)


@pytest.mark.parametrize(
    "verb", [["receive", "--into", "client"], ["bundle", "-o", "b.json"], ["convert", "-t", "ndjson", "-o", "a.ndjson"]]
)
def test_verbs(verb: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record = tmp_path / "note.yaml"
    record.write_bytes(story())
    name, *options = verb
    if name == "receive":
        assert run(["bundle", str(record), "-o", str(tmp_path / "sent.json")]) in (0, 1)
        record = tmp_path / "sent.json"
    options[-1] = str(tmp_path / options[-1])
    with watched(monkeypatch) as disk:
        assert run([name, str(record), *options]) in (0, 1)
    assert_durable(disk)


def test_a_touch_on_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("starlette")
    from starlette.testclient import TestClient

    from woundfhir.page.app import application
    from woundfhir.page.folder import Folder
    from woundfhir.page.state import Page

    (tmp_path / "ida.yaml").write_bytes(story())
    due = datetime(2026, 4, 7, 9, 30, tzinfo=timezone(timedelta(hours=-4)))
    page = Page(Folder(tmp_path), now=lambda: due)
    browser = TestClient(application(page), base_url="http://testserver")
    browser.get(f"/open?t={page.once}")
    with watched(monkeypatch) as disk:
        browser.post("/who", data={"name": "Nurse One (invented)", "designation": "RN", "id": "rn-204", "back": "/"})
        assert browser.post("/c/ida.yaml/start", data={"wound": "1", "purpose": "dressing change"}).status_code == 200
    assert_durable(disk)
