"""The folder that the page works in: a record for each client, read once and written whole.

A client is a record in YAML at the top of the folder (``ida.yaml``), or a folder with a ``record.yaml`` as ``receive``
keeps it. Drafts stand below ``.woundfhir-page/``, and a record that a person wrote by hand is kept there as it was
before the page first writes over it: a comment in it is nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from threading import RLock
from typing import Any, TypeVar

from woundfhir.chart.views import RecordView
from woundfhir.checklist.policy import load as policy
from woundfhir.errors import InputError
from woundfhir.intake.client_folder import KEPT, RECORD
from woundfhir.intake.source import load, parse
from woundfhir.language import spoken
from woundfhir.page.draft import save_held
from woundfhir.record import History
from woundfhir.record.files import to_yaml
from woundfhir.storage import locked

Json = Any
Made = TypeVar("Made")
OURS = ".woundfhir-page"
_SUFFIXES = (".yaml", ".yml")


@dataclass
class _Read:
    """A record as it was last read: the state of its file, what it holds or why it cannot be read."""

    state: tuple[int, int, int]
    history: History | None = None
    refused: InputError | None = None
    kept: dict[str, Any] = field(default_factory=dict)


class Client:
    """One client of the folder.

    Attributes
    ----------
    key
        The name by which the page's addresses call it: that of its file or folder.
    path
        The file of the record.
    """

    def __init__(self, folder: Path, path: Path) -> None:
        self.folder, self.path = folder, path
        self.key = path.parent.name if path.name == RECORD and path.parent != folder else path.name
        self._read: _Read | None = None
        self._lock = RLock()

    @property
    def drafts(self) -> Path:
        """The folder of the client's drafts."""
        return self.folder / OURS / sha256(self.key.encode()).hexdigest()[:16]

    @property
    def home(self) -> Path | None:
        """The folder that ``receive`` keeps, where the client has one."""
        return self.path.parent if self.path.name == RECORD and self.path.parent != self.folder else None

    def history(self) -> History:
        """Return the record; it is read again when its file has changed.

        Raises
        ------
        InputError
            When it cannot be read.
        """
        with self._lock:
            state = self.state()
            if self._read is None or self._read.state != state:
                self._read = self._fresh(state)
            if self._read.history is None:
                raise self._read.refused or InputError(self.key, "a record", "Look at the file")
            return self._read.history

    def view(self) -> RecordView:
        """Return the record, opened; kept as long as its file stays the same."""
        found: RecordView = self.kept("view", lambda: RecordView(self.history(), policy(None)))
        return found

    def kept(self, key: str, work: Callable[[], Made]) -> Made:
        """Return what is worked out of the record, once for each state of its file."""
        key = f"{spoken().key} {key}"  # what is made for people is in their language
        with self._lock:
            self.history()
            read = self._read
            assert read is not None
            if key not in read.kept:
                read.kept[key] = work()
            made: Made = read.kept[key]
            return made

    def state(self) -> tuple[int, int, int]:
        """Return the state of the record's file: its time of change, its size, its place on the disk.

        Raises
        ------
        InputError
            When there is no file any more.
        """
        try:
            found = self.path.stat()
        except OSError:
            raise InputError(self.key, "the record of a client", "Go back to the list", found="it is gone") from None
        return found.st_mtime_ns, found.st_size, found.st_ino

    def _fresh(self, state: tuple[int, int, int]) -> _Read:
        try:
            return _Read(state, parse(load(self.path), self.key).history)
        except InputError as error:
            return _Read(state, refused=error)

    def change(self, work: Callable[[History], History]) -> History:
        """Change the record: read as it is now, changed, written whole; whoever else writes waits.

        Raises
        ------
        InputError
            When it cannot be read or written; then nothing is.
        """
        with self._lock, locked(self.path.parent):
            before = self.history()
            after = work(before)
            content = to_yaml(after)
            self._keep(load(self.path), content)
            save_held(content, self.path, self.path.parent)
            self._read = _Read(self.state(), after)
            return after

    def _keep(self, before: bytes, after: bytes) -> None:
        """Keep a record that this page has not written: its comments and its layout are nowhere else."""
        kept = self.folder / OURS / "before"
        old, new = (sha256(content).hexdigest() for content in (before, after))
        with locked(kept):
            if not (kept / f"{old}.ours").exists():
                save_held(before, kept / f"{old}.before", kept)
            (kept / f"{old}.ours").unlink(missing_ok=True)
            save_held(b"", kept / f"{new}.ours", kept)


class Folder:
    """All clients of a folder."""

    def __init__(self, path: Path) -> None:
        if not path.is_dir():
            raise InputError(str(path), "a folder with the clients' records", "Make it, or name another")
        self.path = path
        self._known: dict[Path, Client] = {}

    def clients(self) -> list[Client]:
        """Return the clients, in the order of their files' names."""
        found = [path for path in self.path.iterdir() if path.suffix in _SUFFIXES and path.is_file()]
        found += [path for path in self.path.glob(f"*/{RECORD}") if path.parent.name not in (OURS, KEPT)]
        return [self._known.setdefault(path, Client(self.path, path)) for path in sorted(found)]

    def client(self, key: str) -> Client:
        """Return a client by its key.

        Raises
        ------
        InputError
            When there is none.
        """
        found = next((one for one in self.clients() if one.key == key), None)
        if found is None:
            raise InputError("the address", "a client of this folder", "Go back to the list")
        return found

    def new(self, record: Mapping[str, Json]) -> Client:
        """Write the record of a new client in a folder of its own."""
        history = History.of(record)
        number = 1
        while (home := self.path / f"client-{number:04}").exists():
            number += 1
        with locked(home):
            save_held(to_yaml(history), home / RECORD, home)
        return self.client(home.name)
