"""Taking in what another team sent: looked at first, written when a person says so, all or nothing."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from woundfhir.errors import InputError
from woundfhir.handover.kept import with_step
from woundfhir.handover.receive import receive
from woundfhir.handover.received import Received
from woundfhir.intake.client_folder import INDEX, RECORD, to_write
from woundfhir.intake.source import load
from woundfhir.page.draft import save_held
from woundfhir.page.folder import Client, Folder
from woundfhir.page.rows import with_number
from woundfhir.page.state import Keys
from woundfhir.record import History
from woundfhir.record.clients import evidence
from woundfhir.storage import locked, save_all

Json = Any
#: So many files that were looked at are held in memory until they are taken in.
_HELD = 8
_CAME: OrderedDict[str, Came] = OrderedDict()


@dataclass(frozen=True)
class Came:
    """What came, and for whom a person says that it is.

    Attributes
    ----------
    files
        Names and bytes.
    client
        Key of a client of the folder; empty: somebody new.
    same_client
        A person has made sure that both are one.
    keys
        The keys that the page was started with.
    at
        The instant of receiving, which a key that is valid for a time is held against.
    """

    files: Sequence[tuple[str, bytes]]
    client: str = ""
    same_client: bool = False
    keys: Keys = field(default_factory=Keys)
    at: str | None = None


def keep(token: str, came: Came) -> None:
    """Hold what was looked at."""
    _CAME[token] = came
    while len(_CAME) > _HELD:
        _CAME.popitem(last=False)


def held(token: str) -> Came | None:
    """Return what was looked at, once."""
    return _CAME.pop(token, None)


def looked(folder: Folder, came: Came) -> tuple[Received, History | None]:
    """Return what came, joined to what is known, and what is known; nothing is written."""
    known = folder.client(came.client).history() if came.client else None
    done = _received(came, known)
    if known is None:
        _refuse_known(folder, done)
    return done, known


def _refuse_known(folder: Folder, done: Received) -> None:
    """Refuse to make a second record of a client who is here: a note in one of them would be missing in the other."""
    patient = done.merged.history.patient
    for number in patient.get("identifiers", ()):
        for client in with_number(folder, str(number.get("value", ""))):
            if evidence(client.history().patient, patient).same:
                fix = "Choose this client in the list, and look at the file again"
                wrong = "its client is in this folder already"
                raise InputError("the file", "the record of a client who is not here yet", fix, found=wrong)


def _received(came: Came, known: History | None) -> Received:
    name, content = came.files[0]
    return receive(
        content if len(came.files) == 1 else list(came.files),
        known,
        name=name,
        same_client=came.same_client,
        at=came.at if came.keys.verify is not None else None,
        verify_key=came.keys.verify,
        key=came.keys.opens,
    )


def take(folder: Folder, came: Came) -> tuple[Client, Received, History | None]:
    """Take in what came; a client whose record was a file alone gets a folder, as ``receive`` keeps it.

    Returns
    -------
    tuple of (Client, Received, History or None)
        The client, what was received, and what was known before.

    Raises
    ------
    InputError
        When it cannot be taken in; then nothing is written.
    """
    if not came.client:
        done = _received(came, None)
        _refuse_known(folder, done)
        home = _new_home(folder.path)
        _store(home, done, None)
        return folder.client(home.name), done, None
    client = folder.client(came.client)
    if client.home is None:
        return client, *_into_file(client, came)
    with locked(client.home):
        known = client.history()
        done = _received(came, known)
        _write(client.home, done, load(client.path), came.at if came.keys.verify is not None else None)
    return client, done, known


def _into_file(client: Client, came: Came) -> tuple[Received, History]:
    """Join to a record that is one file: the bytes that came are kept in the page's own folder."""
    done: list[tuple[Received, History]] = []

    def work(history: History) -> History:
        done.append((_received(came, history), history))
        return done[0][0].merged.history

    client.change(work)
    kept = client.drafts / "received"
    with locked(kept):
        for name, content in done[0][0].files.items():
            if name != RECORD:
                save_held(content, kept / f"{Path(name).name}.came", kept)  # by a name that no other verb reads
    return done[0]


def _new_home(folder: Path) -> Path:
    number = 1
    while (home := folder / f"client-{number:04}").exists():
        number += 1
    return home


def _store(home: Path, done: Received, known: bytes | None) -> None:
    with locked(home):
        _write(home, done, known)


def _write(home: Path, done: Received, known: bytes | None, at: str | None = None) -> None:
    index = load(home / INDEX) if (home / INDEX).exists() else None
    new = to_write(with_step(done, index, known, at), home)
    save_all(new, may_change=[home / INDEX, home / RECORD], same=True, held=home)
