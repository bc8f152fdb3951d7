"""Files, folders and standard input: their bytes, and the history that they hold, recognised by their content."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from woundfhir.errors import InputError
from woundfhir.intake import formats
from woundfhir.intake.client_folder import is_kept
from woundfhir.intake.inputs import Input, from_data
from woundfhir.intake.recognise import HEAD
from woundfhir.intake.together import Decoded, Together
from woundfhir.limits import LIMIT, check_size, read_whole
from woundfhir.packed import packing, unpacked

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any
#: Takes the error of an input that cannot be read.
Refused = Callable[[InputError], object]
#: A table of so many bytes is read row by row.
LONG = 4 * 1024 * 1024


def histories(items: Iterable[tuple[str, Json]], refused: Refused | None = None) -> Iterator[Input]:
    """Yield the history of each client in inputs, given by their names and what they hold: bytes, or decoded data.

    Inputs are read one by one, but for those that are one input together (see ``together``): the pages of a search,
    bulk files, and decoded resources that are no Bundles.

    Parameters
    ----------
    items
        Names, and what they hold; the path of a large table is read row by row.
    refused
        Takes the error of an input that cannot be read, so that the next one is read; without it the error is raised.

    Raises
    ------
    InputError
        For whatever ``parse`` refuses.
    """
    together = Together()
    for name, item in items:
        try:
            yield from _of_one(name, item, together)
        except InputError as error:
            _raise_or(refused, error)
    for group in together.groups():
        try:
            yield from group
        except InputError as error:
            _raise_or(refused, error)


#: The formats of one record as a text, in which an answer has a line: what is read keeps it.
ONE_RECORD = frozenset(("record", "record-json"))


def _raise_or(refused: Refused | None, error: InputError) -> None:
    if refused is None:
        raise error
    refused(error)


def _of_one(name: str, item: Json, together: Together) -> Iterator[Input]:
    """Yield the histories of one input, unless it waits for others to be read together with."""
    if isinstance(item, Path):
        yield from formats.TABLE.read_many(item, name)
        return
    if isinstance(item, bytes):
        found = formats.recognised(item, name)
        if not found.media:
            for one in found.read_many(item, name):
                one.content = item if found.name in ONE_RECORD else b""
                yield one
            return
        undefined: list[Unknown] = []
        came = Decoded(name, found.name, found.resources(item, name, undefined), undefined, item)
    elif isinstance(item, dict) and "resourceType" in item:
        came = Decoded(name, "fhir-json", [item], loose=item["resourceType"] != "Bundle")
    else:
        yield from_data(item, name)
        return
    if not together.take(came):
        yield from came.read()


def read_all(inputs: Iterable[str | Path], *, limit_bytes: int = LIMIT) -> list[Input]:
    """Read files, folders and ``-`` (standard input): the histories of all clients in them.

    Raises
    ------
    InputError
        For a missing file, an empty folder, and whatever ``parse`` refuses.
    """
    return list(histories(opened(inputs, limit_bytes)))


def named(inputs: Iterable[str | Path]) -> Iterator[str]:
    """Yield the name of every file that the inputs name, those of a folder in order; ``-`` for standard input."""
    for given in inputs:
        path = Path(given)
        if str(given) == "-" or not path.is_dir():
            yield str(given)
            continue
        files = sorted(
            p for p in path.rglob("*") if formats.may_hold_a_record(p.name) and p.is_file() and not is_kept(p)
        )
        if not files:
            raise InputError(str(path), "a folder with records in it", "Name a file, or a folder that holds some")
        yield from map(str, files)


def opened(
    inputs: Iterable[str | Path], limit: int = LIMIT, refused: Refused | None = None
) -> Iterator[tuple[str, bytes | Path]]:
    """Yield what ``contents`` does, but the path of a large table that a mapping reads: it is read row by row.

    ``refused`` is as of ``histories``.
    """
    for name in named(inputs):
        try:
            found = (name, Path(name)) if name != "-" and is_long_table(Path(name)) else next(contents([name], limit))
        except InputError as error:
            _raise_or(refused, error)
        else:
            yield found


def is_long_table(path: Path) -> bool:
    """Whether a file is a table in text, too large to be held as a whole, and there is a mapping for it."""
    from woundfhir.tables.in_force import in_force

    try:
        if not in_force() or path.stat().st_size < LONG or path.is_dir():
            return False
        with path.open("rb") as file:
            head = file.read(HEAD)
    except (OSError, ValueError):  # its reader says what is wrong
        return False
    return formats.recognised_by(head) is formats.TABLE and not head.startswith(b"PK")


def of_others(name: str) -> bool:
    """Whether a file shows at a first look that it holds neither a record nor FHIR (see ``formats.holds_notes``)."""
    try:
        with Path(name).open("rb") as file:
            return Path(name).is_file() and not packing(name) and not formats.holds_notes(file.read(LONG))
    except (OSError, ValueError):  # its reader says what is wrong
        return False


def contents(inputs: Iterable[str | Path], limit: int = LIMIT) -> Iterator[tuple[str, bytes]]:
    """Yield name and bytes of every file that the inputs name."""
    for name in named(inputs):
        if name == "-":
            name = "standard input"
            yield name, unpacked(_whole(sys.stdin.buffer, name, limit), limit, name)
        else:
            yield name, load(Path(name), limit)


def load(path: Path, limit: int = LIMIT) -> bytes:
    """Return the bytes of a file that is not too large."""
    try:
        if path.is_dir():
            raise InputError(str(path), "a file", "Name the file inside the folder")
        with path.open("rb") as file:
            check_size(os.fstat(file.fileno()).st_size, limit, str(path))
            # a pipe or a device has no size of its own
            return unpacked(_whole(file, str(path), limit), limit, str(path))
    except (FileNotFoundError, ValueError):  # a name with a zero byte is no name
        wrong = "there is no such file"
        raise InputError(str(path), "a file or a folder", "Check the name and the folder", found=wrong) from None
    except OSError as error:
        wrong = f"it cannot be read ({error.strerror})"
        raise InputError(str(path), "a file that this user may read", "Look at its permissions", found=wrong) from None


def _whole(stream: BinaryIO, name: str, limit: int) -> bytes:
    try:
        return read_whole(stream, limit)
    except InputError as error:
        raise InputError(name, error.expected, error.fix) from None


def parse(content: bytes, name: str) -> Input:
    """Recognise bytes by their content and read them in their format."""
    found = formats.recognised(content, name).read(content, name)
    found.content = content
    return found


__all__ = ["LIMIT", "Input", "contents", "histories", "load", "named", "parse", "read_all"]
