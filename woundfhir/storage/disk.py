"""Single steps on the disk: a new file with its mode, names that are real, devices and pipes written through."""

from __future__ import annotations

import errno
import os
import re
import shutil
import stat
import sys
from collections.abc import Collection
from contextlib import suppress
from hashlib import file_digest, sha256
from pathlib import Path

from woundfhir.errors import InputError

#: Names of a descriptor of this process: written to as it stands, not opened anew.
_DESCRIPTOR = re.compile(r"/dev/(?:fd/(\d+)|(stdout)|(stderr))|/proc/self/fd/(\d+)")


class Unwritable(InputError):
    """A place that cannot be written to, now."""


def named_twice(path: Path) -> InputError:
    """Return the error where two things are to be written to one file."""
    return InputError(str(path), "a name of its own for each file", "Choose another", found="it is named twice")


def unwritable(path: Path, error: OSError) -> Unwritable:
    wrong = f"it cannot be written ({error.strerror or type(error).__name__})"
    fix = "Look at the permissions and the free space, or name another place; nothing was written"
    return Unwritable(str(path), "a place that can be written to", fix, found=wrong)


def put(path: Path, content: bytes, target: Path) -> None:
    """Write a new file to the disk, with the mode and owner of the one it is to replace."""
    try:
        old = target.stat()
    except FileNotFoundError:
        old = None
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o666 if old is None else 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        if old is not None:
            with suppress(OSError):  # only the system's administrator gives a file away
                os.fchown(file.fileno(), old.st_uid, old.st_gid)
            os.fchmod(file.fileno(), stat.S_IMODE(old.st_mode) & 0o777)
        os.fsync(file.fileno())


def sync(folder: Path) -> None:
    """Bring the names in a folder onto the disk; some file systems cannot, and do it by themselves."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):
            os.fsync(handle)
    finally:
        os.close(handle)


def digest(path: Path) -> str | None:
    """The digest of a file, or of the names and sizes in a folder; None where there is nothing."""
    if path.is_dir():
        return _listed(path)
    with suppress(FileNotFoundError), path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()
    return None


def _listed(folder: Path) -> str:
    """Names may come in any order, and there may be very many: their digests are joined one by one."""
    found = 0
    with os.scandir(folder) as entries:
        for one in entries:
            line = os.fsencode(one.name) + b"\0%d" % one.stat(follow_symlinks=False).st_size
            found ^= int.from_bytes(sha256(line).digest())
    return f"{found:064x}"


def remove(path: Path) -> None:
    """Take away a file or a folder, where it is there."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)


def make_folder(folder: Path) -> list[Path]:
    """Make a folder and those above it; return the ones that were not there, the outermost first."""
    new = [one for one in (folder, *folder.parents) if not one.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return new[::-1]


def remove_empty(folders: Collection[Path]) -> None:
    for folder in reversed(list(folders)):
        with suppress(OSError):  # something stands in it by now
            folder.rmdir()


def real(path: Path) -> Path:
    """The file behind a name, symbolic links followed."""
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError):
        wrong = "its links lead in a circle, or it holds a character that no name may have"
        raise InputError(str(path), "the name of a file", "Choose another name", found=wrong) from None


def is_stream(path: Path) -> bool:
    """Whether a name is a device or a pipe, to be written through."""
    if _DESCRIPTOR.fullmatch(str(path)):
        return True
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return False
    except (OSError, ValueError) as error:
        if isinstance(error, OSError) and error.errno != errno.ELOOP:
            raise unwritable(path, error) from None
        real(path)  # refuses links in a circle
        return False
    if stat.S_ISREG(mode):
        return False
    if stat.S_ISCHR(mode) or stat.S_ISFIFO(mode):
        return True
    wrong = "it is a folder" if stat.S_ISDIR(mode) else "it is neither a file nor a pipe"
    raise InputError(str(path), "the name of a file", "Name a file", found=wrong)


def write_through(path: Path, content: bytes) -> None:
    named = _DESCRIPTOR.fullmatch(str(path))
    try:
        if named:
            number = int(named[1] or named[4] or (1 if named[2] else 2))
            (sys.stdout if number == 1 else sys.stderr).flush()
            handle = os.dup(number)
        else:
            handle = os.open(path, os.O_WRONLY | os.O_CLOEXEC)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
    except OSError as error:
        raise unwritable(path, error) from None
