"""Files on their way: staged under names of ours, announced in a list, renamed; and what to do after a killed run."""

from __future__ import annotations

import json
import os
import re
import secrets
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from woundfhir.storage.disk import digest, put, remove, sync

_PART, _TODO, _RESUME = "part", "todo", "resume"
_OURS = re.compile(r"\.woundfhir-([0-9a-f]{16})(?:-\d+\.part|\.(?:todo|resume)(?:\.part)?)")


def recover(folder: Path) -> None:
    """Finish what a killed run had announced in a folder, and clear away what it left. The caller holds the folder.

    What a checkpoint needs stays (``kept``).
    """
    with suppress(FileNotFoundError):
        names = sorted(path for path in folder.iterdir() if _OURS.fullmatch(path.name))
        for path in names:
            if path.suffix == f".{_TODO}":
                _finish(path)
        going_on = {_token(path) for path in names if path.suffix == f".{_RESUME}" and path.exists()}
        for path in names:
            if _token(path) not in going_on or path.name.endswith((f".{_TODO}.{_PART}", f".{_RESUME}.{_PART}")):
                remove(path)


def _token(path: Path) -> str:
    found = _OURS.fullmatch(path.name)
    return found[1] if found else ""


def _finish(todo: Path) -> None:
    """Do the renamings of a list, unless a file has been changed by somebody else since it was written."""
    try:
        moves = [
            Move(todo.parent / part, todo.parent / to, old, new) for part, to, old, new in json.loads(todo.read_bytes())
        ]
    except (OSError, ValueError, TypeError):
        return
    if all(one.can_be_finished for one in moves):
        for one in moves:
            one.place()
        sync(todo.parent)
    for one in moves:
        if _OURS.fullmatch(one.part.name):
            remove(one.part)
    for folder in {todo.parent, *(one.part.parent for one in moves)}:  # no checkpoint of it is needed any more
        (folder / todo.with_suffix(f".{_RESUME}").name).unlink(missing_ok=True)


@dataclass(frozen=True, slots=True)
class Move:
    """A staged file or folder: where it is, where it goes, the digests of what stood there (None: nothing) and will."""

    part: Path
    target: Path
    before: str | None
    after: str

    @property
    def can_be_finished(self) -> bool:
        if not _OURS.fullmatch(self.part.name):
            return False
        now = digest(self.target)
        if now == self.after:
            return True
        known = now == self.before or (now is None and self.part.is_dir())  # a folder makes room first
        return known and digest(self.part) == self.after

    def place(self) -> None:
        old = self.part.with_name(f"{self.part.stem}000.{_PART}")
        if self.part.is_dir() and self.target.is_dir():  # a folder cannot be renamed over one that holds something
            self.target.rename(old)
        with suppress(FileNotFoundError):  # placed already
            self.part.replace(self.target)
        if old.is_dir():
            remove(old)


class Staged:
    """Files that are placed together: staged, announced, renamed."""

    def __init__(self, root: Path, token: str | None = None) -> None:
        self.root, self.token = root, token or secrets.token_hex(8)
        self.moves: list[Move] = []

    @property
    def todo(self) -> Path:
        return self.root / f".woundfhir-{self.token}.{_TODO}"

    def stage(self, target: Path, content: bytes) -> None:
        part = target.parent / f".woundfhir-{self.token}-{len(self.moves)}.{_PART}"
        self.moves.append(Move(part, target, digest(target), sha256(content).hexdigest()))
        put(part, content, target)

    def announce(self) -> None:
        """Put the list of renamings beside the files: from here on the set counts as written."""
        below = [(os.path.relpath(m.part, self.root), os.path.relpath(m.target, self.root)) for m in self.moves]
        lines = [[*names, m.before, m.after] for names, m in zip(below, self.moves, strict=True)]
        for folder in {one.target.parent for one in self.moves}:
            sync(folder)
        part = self.todo.with_name(f"{self.todo.name}.{_PART}")
        put(part, json.dumps(lines).encode("ascii"), self.todo)
        part.replace(self.todo)
        sync(self.root)

    def place(self) -> None:
        for one in self.moves:
            one.place()
        for folder in {one.target.parent for one in self.moves}:
            sync(folder)
        self.todo.unlink(missing_ok=True)

    def drop(self) -> None:
        for path in (self.todo, self.todo.with_name(f"{self.todo.name}.{_PART}"), *(one.part for one in self.moves)):
            remove(path)
