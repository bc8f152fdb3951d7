"""Files that are written as their content is made, and appear when all of it stands there."""

from __future__ import annotations

import os
import secrets
import stat
import sys
from collections.abc import Iterable
from contextlib import ExitStack
from hashlib import sha256
from pathlib import Path
from typing import Any, BinaryIO

from woundfhir.errors import InputError
from woundfhir.packed import packing, writer
from woundfhir.storage.disk import is_stream, real, sync, unwritable
from woundfhir.storage.lock import locked


class File:
    """One file on its way: packed as the ending of its name wants it."""

    def __init__(self, path: Path, part: Path, stack: ExitStack) -> None:
        self.path, self.part = path, part
        self.lines = self.size = 0
        self._hash = sha256()
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o666)
        self._file: BinaryIO = stack.enter_context(os.fdopen(handle, "wb"))
        if path.exists():
            os.fchmod(handle, stat.S_IMODE(path.stat().st_mode) & 0o777)
        self._stack = stack.enter_context(ExitStack())
        self._packed: Any = self._stack.enter_context(writer(self._file, packing(path.name)))

    def write(self, content: bytes) -> None:
        """Write what comes next."""
        try:
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

    def end(self) -> None:
        """Bring all of it onto the disk."""
        try:
            self._stack.close()
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as error:
            raise unwritable(self.path, error) from None


class Growing:
    """Files that appear together, at the end of the block that writes them; after an error none does.

    Their folders are held as long (see ``locked``). A run that is killed leaves files under names of ours, which the
    next run in the folder clears away.

    Parameters
    ----------
    folders
        Where they are going to stand.
    force
        Write over files that are there.
    """

    def __init__(self, folders: Iterable[Path], *, force: bool = False) -> None:
        self._folders = sorted({real(one) for one in folders})
        self._force = force
        self._stack = ExitStack()
        self._token = secrets.token_hex(8)
        self.files: dict[Path, File] = {}

    def __enter__(self) -> Growing:
        for folder in self._folders:
            self._stack.enter_context(locked(folder))
        return self

    def open(self, path: Path) -> File:
        """Begin a file.

        Raises
        ------
        InputError
            Where there is one of this name, or it cannot be written.
        """
        there = real(path)
        if there.exists() and not self._force:
            fix = "Choose another name, or add --force"
            raise InputError(str(path), "a name that is not taken", fix, found="a file of this name is there already")
        part = there.parent / f".woundfhir-{self._token}-{len(self.files)}.part"
        try:
            found = self.files[path] = File(there, part, self._stack)
        except OSError as error:
            raise unwritable(path, error) from None
        return found

    def __exit__(self, kind: object, *_: object) -> None:
        try:
            if kind is None:
                for one in self.files.values():
                    one.end()
                for one in self.files.values():
                    one.part.replace(one.path)
                for folder in self._folders:
                    sync(folder)
        finally:
            for one in self.files.values():
                one.part.unlink(missing_ok=True)
            self._stack.close()


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
