"""Files that are written as their content is made, and appear when all of it stands there."""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Iterable, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from woundfhir.errors import InputError
from woundfhir.packed import packing
from woundfhir.storage.disk import Unwritable, digest, named_twice, real, remove, unwritable
from woundfhir.storage.kept import Kept
from woundfhir.storage.lock import locked
from woundfhir.storage.outputs import File, Folder
from woundfhir.storage.staged import Move, Staged


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
        part = there.parent / before["part"] if before else self._part(there)
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
        part = self._part(there)
        try:
            part.mkdir(exist_ok=self._kept is not None and self._kept.stands)
        except OSError as error:
            raise unwritable(path, error) from None
        found = self.folders[path] = Folder(there, part)
        return found

    def _part(self, there: Path) -> Path:
        """Return where the next file or folder stands until it is placed."""
        number = len(self.files) + len(self._scratch) + len(self.folders)
        return there.parent / f".woundfhir-{self._token}-{number}.part"

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
