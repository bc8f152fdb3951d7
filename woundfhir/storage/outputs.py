"""What a run writes into: a file or a folder on its way to its name, or a stream that takes what comes."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Mapping
from contextlib import ExitStack, suppress
from hashlib import sha256
from pathlib import Path
from typing import Any, BinaryIO, Protocol

from woundfhir.errors import InputError
from woundfhir.packed import FAULTS, packing, reader, writer
from woundfhir.storage.disk import is_stream, unwritable


class Sink(Protocol):
    """What takes bytes as they come."""

    def write(self, content: bytes) -> None:
        """Take what comes next."""


class File:
    """One file on its way: packed as the ending of its name wants it.

    Parameters
    ----------
    path, part
        Where it is going to stand, and where it is until then.
    stack
        Closes it.
    before
        What a checkpoint says of it, where it is gone on with.
    """

    def __init__(self, path: Path, part: Path, stack: ExitStack, before: Mapping[str, Any] | None = None) -> None:
        self.path, self.part = path, part
        self.lines = self.size = 0
        self._hash = sha256()
        flags = os.O_CREAT | os.O_EXCL if before is None else 0
        handle = os.open(part, os.O_RDWR | os.O_CLOEXEC | os.O_NOFOLLOW | flags, 0o666)
        self._file: BinaryIO = os.fdopen(handle, "w+b")
        stack.callback(self._close)
        if path.exists():
            os.fchmod(handle, stat.S_IMODE(path.stat().st_mode) & 0o777)
        self._stack = ExitStack()
        self._packed: Any = None
        if before is not None:
            self._go_on(before)

    def _close(self) -> None:
        """Close it, and do not try again what a full disk left in its buffer: ``mark`` has brought out what counts."""
        with suppress(OSError):
            self._file.close()

    def _go_on(self, before: Mapping[str, Any]) -> None:
        """Take away what was written after a checkpoint, and hold what is left against it."""
        self._file.truncate(before["length"])
        self._file.seek(0)
        head = self._file.read(4)
        self._file.seek(0)
        with suppress(*FAULTS):
            stream = reader(self._file, head) if packing(self.path.name) and head else self._file
            while part := stream.read(1 << 20):
                self._hash.update(part)
        if self.sha256 != before["sha256"]:
            wrong = "what the stopped run had written has been changed since"
            fix = "Leave --resume out once: then the run begins anew"
            raise InputError(str(self.path), "the bytes of its last checkpoint", fix, found=wrong)
        self._file.seek(0, os.SEEK_END)
        self.lines, self.size = before["lines"], before["size"]

    def write(self, content: bytes) -> None:
        """Write what comes next."""
        try:
            if self._packed is None:
                self._packed = self._stack.enter_context(writer(self._file, packing(self.path.name)))
            self._packed.write(content)
        except OSError as error:
            raise unwritable(self.path, error) from None
        self.lines += content.count(b"\n")
        self.size += len(content)
        self._hash.update(content)

    @property
    def sha256(self) -> str:
        """The digest of what was written, before it was packed."""
        return self._hash.hexdigest()

    def mark(self, *, sync: bool) -> dict[str, Any]:
        """End what is packed so far, so that it can be read alone; return what a checkpoint says of it.

        Parameters
        ----------
        sync
            Whether it is brought onto the disk.
        """
        try:
            self._stack.close()
            self._stack, self._packed = ExitStack(), None
            self._file.flush()
            if sync:
                os.fsync(self._file.fileno())
        except OSError as error:
            raise unwritable(self.path, error) from None
        length = self._file.tell()
        return {"part": self.part.name, "length": length, "lines": self.lines, "size": self.size, "sha256": self.sha256}

    def end(self) -> None:
        """Bring all of it onto the disk."""
        if not self.size:
            self.write(b"")  # what is packed is packed, also where it is nothing
        self.mark(sync=True)


class Folder:
    """Many files that appear together as one folder: written one by one, and none of them is held open.

    Parameters
    ----------
    path, part
        Where it is going to stand, and where it is until then.
    """

    def __init__(self, path: Path, part: Path) -> None:
        self.path, self.part = path, part

    def write(self, name: str, content: bytes) -> None:
        """Write a file, over one that a stopped run had written after its last checkpoint."""
        try:
            with (self.part / name).open("wb") as file:
                file.write(content)
        except OSError as error:
            raise unwritable(self.path / name, error) from None


class Through:
    """Standard output, a device or a pipe: written to as it comes."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.lines = self.size = 0

    def write(self, content: bytes) -> None:
        """Write what comes next."""
        self.lines += content.count(b"\n")
        self.size += len(content)
        if str(self._path) == "-":
            sys.stdout.buffer.write(content)
            return
        try:
            with self._path.open("ab") as file:
                file.write(content)
        except OSError as error:
            raise unwritable(self._path, error) from None


def goes_through(path: Path | None) -> bool:
    """Whether what is written to a path cannot be taken back."""
    return path is None or str(path) == "-" or is_stream(path)
