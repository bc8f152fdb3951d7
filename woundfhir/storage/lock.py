"""A folder held by one run at a time."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from woundfhir.errors import InputError
from woundfhir.storage.disk import make_folder, remove_empty, unwritable
from woundfhir.storage.staged import recover

#: How long to wait for another run that holds a folder, in seconds.
PATIENCE = 60.0
LOCK = ".woundfhir.lock"


@contextmanager
def locked(folder: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Hold a folder alone: whoever else asks for it waits. What a killed run left in it is finished or cleared first.

    Parameters
    ----------
    folder
        Made when it is missing, and taken away again when it is left empty.
    patience
        Seconds to wait for another run.

    Raises
    ------
    InputError
        When another run still holds it then, or it cannot be written to.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as name, locked(Path(name)):
    ...     [path.name for path in Path(name).iterdir()]
    ['.woundfhir.lock']
    """
    made: list[Path] = []
    try:
        handle = _hold(folder, time.monotonic() + patience, made)
    except OSError as error:
        remove_empty(made)
        raise unwritable(folder, error) from None
    try:
        recover(folder)
        yield
    finally:
        with suppress(OSError):
            (folder / LOCK).unlink()
        os.close(handle)
        remove_empty(made)


def _hold(folder: Path, until: float, made: list[Path]) -> int:
    """Return a descriptor that holds the lock of a folder."""
    while True:
        made += [one for one in make_folder(folder) if one not in made]
        handle = _open_lock(folder / LOCK)
        if handle is not None:
            if _taken_alone(handle, folder / LOCK):
                return handle
            os.close(handle)
        if time.monotonic() > until:
            fix = "Wait for it to end, then try again"
            raise InputError(str(folder), "a folder that is free", fix, found="another run is at work in it")
        time.sleep(0.02)


def _open_lock(path: Path) -> int | None:
    """Open the file of a lock, or make it; None when another run is just making or removing it.

    It holds nothing, and everybody may open it: people who share a folder need not share a group.
    """
    with suppress(FileNotFoundError):
        return os.open(path, os.O_RDWR | os.O_CLOEXEC)
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o666)
    except FileExistsError:
        return None
    except FileNotFoundError:  # the run before took the empty folder away
        return None
    os.fchmod(handle, 0o666)
    return handle


def _taken_alone(handle: int, path: Path) -> bool:
    """Try to take the lock; False when another run has it, or has removed this file since it was opened."""
    import fcntl  # not on Windows, where reading works and writing says so

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        return os.path.samestat(os.fstat(handle), path.stat())
    except (BlockingIOError, FileNotFoundError):
        return False
