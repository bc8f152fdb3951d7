"""What a stopped run keeps, so that the next goes on: the files as far as they stood, and a list of their lengths."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from woundfhir.errors import InputError
from woundfhir.storage.disk import put, real, remove, sync

Json = Any


class Kept:
    """A checkpoint beside an output, under a name that grows from that of the output.

    Parameters
    ----------
    output
        The file, or one of the files, that the run writes.
    of
        What the bytes depend on (input, options ...), by the names that a message gives them: a run goes on only where
        all of it is as it was.
    resume
        Whether checkpoints are made, and the last one is gone on from; otherwise what a stopped run left is removed.
    """

    def __init__(self, output: Path, of: Mapping[str, Json], *, resume: bool) -> None:
        there = real(output)
        self.output, self.folder, self.resume = output, there.parent, resume
        self.of = json.loads(json.dumps(of))
        self.token = sha256(os.fsencode(there)).hexdigest()[:16]
        self.files: dict[str, dict[str, Json]] = {}
        self.more: dict[str, Json] = {}
        self.stands = False

    @property
    def path(self) -> Path:
        """The list of a checkpoint."""
        return self.name(self.folder)

    def name(self, folder: Path) -> Path:
        """Return the name of the list, or of the mark in a second folder that holds files of the run."""
        return folder / f".woundfhir-{self.token}.resume"

    def begin(self, folders: list[Path]) -> None:
        """Find the last checkpoint, or remove it; the caller holds the folders.

        Raises
        ------
        InputError
            Where something has changed since.
        """
        if not self.resume or not self.path.exists():
            self.remove(folders)
            return
        try:
            found = json.loads(self.path.read_bytes())
            of, self.files, self.more = found["of"], found["files"], found["more"]
            whole = all(self._is_whole(Path(path).parent, one) for path, one in self.files.items())
        except (OSError, ValueError, TypeError, KeyError):
            whole, of = False, {}
        if not whole:
            raise self._refused("its checkpoint is damaged or incomplete")
        changed = [name for name in self.of if of.get(name) != self.of[name]]
        if changed:
            raise self._refused(f"since it was stopped, this has changed: {', '.join(changed)}")
        self.stands = True

    def _is_whole(self, folder: Path, file: Mapping[str, Json]) -> bool:
        """Whether a file of ours, and no other, is as long as the list says."""
        name = file["part"]
        ours = re.fullmatch(rf"\.woundfhir-{self.token}-\d+\.part", name) is not None
        return ours and bool((folder / name).lstat().st_size >= file["length"])

    def _refused(self, wrong: str) -> InputError:
        fix = "Restore what has changed; or leave --resume out once: then the run begins anew"
        return InputError(str(self.output), "a stopped run of the same command on the same input", fix, found=wrong)

    def keep(self, files: dict[str, dict[str, Json]], more: Mapping[str, Json], folders: list[Path]) -> None:
        """Write a checkpoint, for files whose bytes are on the disk."""
        for folder in folders:
            if folder != self.folder and not self.name(folder).exists():
                put(self.name(folder), b"", self.name(folder))
                sync(folder)
        part = self.path.with_name(f"{self.path.name}.part")
        put(part, json.dumps({"of": self.of, "files": files, "more": more}).encode(), self.path)
        part.replace(self.path)
        sync(self.folder)
        self.stands = True

    def forget(self) -> None:
        """Remove the list alone: the run has come to its end, or begins anew."""
        self.path.unlink(missing_ok=True)
        sync(self.folder)
        self.stands = False

    def remove(self, folders: list[Path]) -> None:
        """Remove a checkpoint and the files of it; the list first, so that it never names what is gone."""
        if self.path.exists():
            self.forget()
        for folder in {*folders, self.folder}:
            for path in sorted(folder.glob(f".woundfhir-{self.token}*")):
                remove(path)
        self.files, self.more, self.stands = {}, {}, False
