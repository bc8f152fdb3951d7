"""Several files written all or none: each whole under another name first, then all renamed."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from woundfhir.errors import InputError


def store(
    files: Mapping[str, bytes], folder: Path, *, may_change: frozenset[str] = frozenset(), keep: str = ""
) -> list[Path]:
    """Write files into a folder and return those that were written.

    Parameters
    ----------
    files
        Names relative to the folder, and bytes. They are put in place in this order.
    folder
        Made when it is not there.
    may_change
        Names that may be written over; any other file that is there must hold the same bytes.
    keep
        An ending of names that stay as they are when they are there, whatever they hold.

    Returns
    -------
    list of Path
        What was written; a file that holds the same bytes already is left alone.

    Raises
    ------
    InputError
        When a name is taken or something cannot be written. Then nothing is.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as name:
    ...     first = store({"a/b.txt": b"1"}, Path(name))
    ...     again = store({"a/b.txt": b"1"}, Path(name))
    >>> len(first), len(again)
    (1, 0)
    """
    ready: list[tuple[Path, Path]] = []
    made: list[Path] = []
    done = False
    try:
        wanted = _wanted(files, folder, may_change, keep)
        for path, content in wanted.items():
            made += _make(path.parent)
            handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
            ready.append((Path(name), path))
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            Path(name).chmod(0o644)
        for temporary, path in ready:
            temporary.replace(path)
        done = True
    except OSError as error:
        raise InputError(str(folder), "a folder that can be written", f"The system says: {error.strerror}") from None
    finally:
        if not done:
            _clean([temporary for temporary, _ in ready], made)
    return list(wanted)


def _wanted(files: Mapping[str, bytes], folder: Path, may_change: frozenset[str], keep: str) -> dict[Path, bytes]:
    wanted: dict[Path, bytes] = {}
    for name, content in files.items():
        path = folder / name
        if path.exists():
            if (keep and name.endswith(keep)) or path.read_bytes() == content:
                continue
            if name not in may_change:
                raise InputError(str(path), "a name that is not taken", "Name another folder, or add --force")
        wanted[path] = content
    return wanted


def _make(folder: Path) -> list[Path]:
    """Make a folder and those above it; return the ones that were not there, the outermost first."""
    new = [one for one in (folder, *folder.parents) if not one.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return new[::-1]


def _clean(temporary: list[Path], made: list[Path]) -> None:
    """Take away what was begun: files under their other names, and folders that were made for them."""
    for path in temporary:
        path.unlink(missing_ok=True)
    for folder in reversed(made):
        with suppress(OSError):  # something else stands there by now
            folder.rmdir()
