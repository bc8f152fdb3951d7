"""Files that are written as their content is made, and appear when all of it stands there."""

from __future__ import annotations

import os
import re
import secrets
import stat
import sys
from collections.abc import Iterable, Mapping
from contextlib import ExitStack, suppress
from hashlib import sha256
from pathlib import Path
from typing import Any, BinaryIO

from woundfhir.errors import InputError
from woundfhir.packed import FAULTS, packing, reader, writer
from woundfhir.storage.disk import Unwritable, digest, is_stream, named_twice, real, remove, unwritable
from woundfhir.storage.kept import Kept
from woundfhir.storage.lock import locked
from woundfhir.storage.staged import Move, Staged


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


class Growing:
    """Files that appear together, at the end of the block that writes them; after an error none does.

    Their folders are held as long (see ``locked``). A run that is killed leaves files under names of ours, which the
    next run in the folder clears away, unless they belong to a checkpoint.

    Parameters
    ----------
    folders
        Where they are going to stand.
    force
        Write over files that are there.
    kept
        The checkpoint of a run that may be gone on with.
    """

    def __init__(self, folders: Iterable[Path], *, force: bool = False, kept: Kept | None = None) -> None:
        self._folders = sorted({real(one) for one in folders})
        self._force = force
        self._stack = ExitStack()
        self._token = kept.token if kept is not None and kept.resume else secrets.token_hex(8)
        self._kept = kept
        self._scratch: dict[Path, File] = {}
        self.files: dict[Path, File] = {}
        self.folders: dict[Path, Folder] = {}

    def __enter__(self) -> Growing:
        try:
            for folder in self._folders:
                self._stack.enter_context(locked(folder))
            if self._kept is not None:
                self._kept.begin(self._folders)
        except BaseException:
            self._stack.close()
            raise
        return self

    def open(self, path: Path, *, scratch: bool = False) -> File:
        """Begin a file, or go on with it.

        Parameters
        ----------
        path
            Where it is going to stand.
        scratch
            Whether only a checkpoint keeps it, and it never stands there.

        Raises
        ------
        InputError
            Where there is one of this name, or it cannot be written.
        """
        there = self._free(path)
        if there in map(real, self.files):
            raise named_twice(path)
        before = self._kept.files.get(str(there)) if self._kept is not None else None
        number = len(self.files) + len(self._scratch) + len(self.folders)
        part = there.parent / (before["part"] if before else f".woundfhir-{self._token}-{number}.part")
        try:
            found = File(there, part, self._stack, before)
        except OSError as error:
            raise unwritable(path, error) from None
        (self._scratch if scratch else self.files)[path] = found
        return found

    def folder(self, path: Path, ours: re.Pattern[str]) -> Folder:
        """Begin a folder of many files, or go on with it.

        Parameters
        ----------
        path
            Where it is going to stand.
        ours
            What files in it are called: a folder that holds others is never written over.
        """
        there = self._free(path)
        if there.exists() and not (there.is_dir() and all(ours.fullmatch(one.name) for one in there.iterdir())):
            wrong = "it holds something that no such run has written"
            raise InputError(str(path), "a folder that an earlier run has written", "Choose another", found=wrong)
        number = len(self.files) + len(self._scratch) + len(self.folders)
        part = there.parent / f".woundfhir-{self._token}-{number}.part"
        try:
            part.mkdir(exist_ok=self._kept is not None and self._kept.stands)
        except OSError as error:
            raise unwritable(path, error) from None
        found = self.folders[path] = Folder(there, part)
        return found

    def _free(self, path: Path) -> Path:
        there = real(path)
        if there.exists() and not self._force:
            fix = "Choose another name, or add --force"
            raise InputError(str(path), "a name that is not taken", fix, found="a file of this name is there already")
        return there

    def mark(self, more: Mapping[str, Any]) -> None:
        """Make a checkpoint, where one is wanted; ``more`` is what the run needs to go on."""
        resume = self._kept is not None and self._kept.resume
        if resume and self.folders:
            os.sync()
        marks = {str(one.path): one.mark(sync=resume) for one in self._all()}
        if self._kept is not None and resume:
            try:
                self._kept.keep(marks, more, self._folders)
            except OSError as error:
                raise unwritable(self._kept.output, error) from None

    def _all(self) -> list[File]:
        return [*self.files.values(), *self._scratch.values()]

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        going_on = self._kept is not None and self._kept.stands and kind is not None
        going_on = going_on and (issubclass(kind, Unwritable) or not issubclass(kind, InputError))  # type: ignore[arg-type]
        try:
            if kind is None:
                try:
                    self._place()
                except BaseException:
                    going_on = self._kept is not None and self._kept.stands
                    raise
        finally:
            if not going_on:
                if self._kept is not None:
                    self._kept.remove(self._folders)
                for part in [*(one.part for one in self._all()), *(one.part for one in self.folders.values())]:
                    remove(part)
            self._stack.close()

    def _place(self) -> None:
        """Give all files their names: all or none, also where this is stopped meanwhile.

        Without a checkpoint that holds for those of one folder.
        """
        for one in self.files.values():
            one.end()
        if self.folders:
            os.sync()
        sets: dict[Path, Staged] = {}
        try:
            moves = [
                Move(one.part, one.path, digest(one.path), digest(one.part) or "") for one in self.folders.values()
            ]
            for one in self.files.values():
                after = (digest(one.part) or "") if packing(one.path.name) else one.sha256
                moves.append(Move(one.part, one.path, digest(one.path), after))
            for move in moves:
                folder = self._kept.folder if self._kept is not None and self._kept.stands else move.target.parent
                sets.setdefault(folder, Staged(folder, self._token)).moves.append(move)
            for found in sets.values():
                found.announce()
            if self._kept is not None and self._kept.stands:
                self._kept.forget()
            for found in sets.values():
                found.place()
        except OSError as error:
            raise unwritable(next(iter(self.files)), error) from None


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
