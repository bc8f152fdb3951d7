"""The one writer: files whole or not at all, several of them all or none, and one run at a time in a folder.

How a file is written: its bytes go to a neighbour under a name of ours, onto the disk (fsync), and are then renamed; a
reader never sees half a file. A new file gets the mode that the umask leaves, a replaced one keeps its own. A symbolic
link is followed: the file it points at is replaced and the link stays. What is no file but a device or a pipe
(``/dev/stdout``, a fifo) is written through.

Several files: all are staged, then a list of them (``.woundfhir-*.todo``) is put beside them, then all are renamed. A
run that is killed before the list stands has written nothing; one that is killed after it has written everything:
whoever next writes in the folder finishes the renaming, unless one of the files was changed by somebody else since,
and clears away what is left over. Files in several folders have a list in each.

A lock (``.woundfhir.lock``, gone when nobody holds it) covers reading, joining and writing in a client's folder.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from contextlib import ExitStack
from pathlib import Path

from woundfhir.errors import InputError
from woundfhir.storage.disk import is_stream, named_twice, real, unwritable, write_through
from woundfhir.storage.lock import locked
from woundfhir.storage.staged import Staged

__all__ = ["locked", "refuse_taken", "save", "save_all"]


def save(content: bytes, path: Path, *, force: bool = False) -> None:
    """Write bytes to one file; see ``save_all``."""
    save_all({path: content}, force=force)


def save_all(
    files: Mapping[Path, bytes],
    *,
    force: bool = False,
    may_change: Collection[Path] = (),
    same: bool = False,
    held: Path | None = None,
) -> list[Path]:
    """Write files, all or none.

    Parameters
    ----------
    files
        Names and bytes, in the order in which they are put in place. Folders that are missing are made.
    force
        Write over files that are there.
    may_change
        Names that may be written over without ``force``.
    same
        Whether a file that holds these bytes already counts as written, and is left alone.
    held
        A folder that the caller holds (see ``locked``): what is written below it is one set.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    InputError
        When a name is taken, two names are one file, or something cannot be written. Then nothing is; a device or a
        pipe may have taken a part.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as name:
    ...     first = save_all({Path(name, "a", "b.txt"): b"1"})
    ...     again = save_all({Path(name, "a", "b.txt"): b"1"}, same=True)
    >>> len(first), len(again)
    (1, 0)
    """
    wanted: dict[Path, tuple[Path, bytes]] = {}
    through: dict[Path, bytes] = {}
    for path, content in files.items():
        if is_stream(path):
            through[path] = content
            continue
        there = real(path)
        if there in wanted:
            raise named_twice(path)
        wanted[there] = path, content
    may = {real(path) for path in may_change}
    written = _write_set(wanted, lambda path: force or path in may, same, held and real(held)) if wanted else []
    for path, content in through.items():
        write_through(path, content)
    return [*written, *through]


def refuse_taken(path: Path, force: bool) -> None:
    """Refuse a file that exists, unless it may be written over, or is a device or a pipe."""
    if not force and not is_stream(path) and real(path).exists():
        with locked(real(path).parent):  # what a killed run left there is finished or cleared away first
            if real(path).exists():
                raise _taken(path)


def _taken(path: Path) -> InputError:
    fix = "Choose another name, or add --force"
    return InputError(str(path), "a name that is not taken", fix, found="a file of this name is there already")


def _write_set(
    wanted: Mapping[Path, tuple[Path, bytes]], may: Callable[[Path], bool], same: bool, held: Path | None
) -> list[Path]:
    """Write files by their real paths, all or none; return the names by which they were given."""
    written: list[Path] = []
    with ExitStack() as locks:
        try:
            for folder in sorted({path.parent for path in wanted} - {held}):
                locks.enter_context(locked(folder))
            sets: dict[Path, Staged] = {}
            try:
                for path, (name, content) in wanted.items():
                    if path.exists():
                        if same and path.read_bytes() == content:
                            continue
                        if not may(path):
                            raise _taken(name)
                    root = held if held and path.is_relative_to(held) else path.parent
                    sets.setdefault(root, Staged(root)).stage(path, content)
                    written.append(name)
                for one in sets.values():
                    one.announce()
            except BaseException:
                for one in sets.values():
                    one.drop()
                raise
            _place(sets.values())
        except OSError as error:
            raise unwritable(next(iter(wanted.values()))[0], error) from None
    return written


def _place(sets: Collection[Staged]) -> None:
    """Rename what was announced; an interruption (Ctrl-C) waits until all of it is."""
    try:
        for one in sets:
            one.place()
    except KeyboardInterrupt:
        for one in sets:
            one.place()
        raise
