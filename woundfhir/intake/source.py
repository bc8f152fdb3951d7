"""Files, folders and standard input: their bytes, and the history that they hold, recognised by their content."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from woundfhir.errors import InputError, WoundfhirError
from woundfhir.intake import formats
from woundfhir.intake.client_folder import is_kept
from woundfhir.intake.inputs import DIFFERS, Input, from_data
from woundfhir.intake.together import Came, Together
from woundfhir.limits import LIMIT, check_size, read_whole
from woundfhir.record import History

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any
Source = str | Path | bytes | Mapping[str, Json]


def read(source: str | Path | bytes | dict[str, Json]) -> History:
    """Read one history from a path, from bytes, or from decoded data.

    Parameters
    ----------
    source
        A path; bytes of a file in any known form; a decoded record, FHIR resource or Bundle.

    Returns
    -------
    History

    Raises
    ------
    InputError
        Says where, what was expected and what to do; never a value of the input.

    Examples
    --------
    >>> read(b'{"woundfhir": 1, "patient": {"born": "1948-03"}}').patient
    {'born': '1948-03'}
    """
    if isinstance(source, dict):
        return from_data(source, "input").history
    if isinstance(source, bytes):
        return parse(source, "input").history
    return parse(load(Path(source)), str(source)).history


def read_many(source: Source | Iterable[Source], *, limit_bytes: int = LIMIT) -> Iterator[Input]:
    """Read the histories of many clients, one after the other.

    Files are read one by one, and each client of a file has a history of their own. Two kinds of files are one input
    together: the pages of a search on one server, and NDJSON files with one type of resource each, named by it, in one
    folder (as HL7's bulk data has them). Nothing else is joined: a client in two other files is two histories.

    Parameters
    ----------
    source
        A file, a folder, ``-`` (standard input), bytes of a file in any known form, decoded data; or several of them.
        Decoded FHIR resources that are no Bundles are one input together.
    limit_bytes
        The largest file.

    Yields
    ------
    Input
        ``history``, ``report`` (what became of each value of a FHIR input, else None), ``losses`` (in words), ``name``
        and ``kind`` (the format).

    Raises
    ------
    InputError
        For a missing file, an empty folder, and whatever ``read`` refuses.

    Examples
    --------
    >>> two = b"woundfhir,patient.identifiers.1.value,patient.born\\n1,A,1948\\n1,B,1950\\n"
    >>> [(one.name, one.history.patient["born"]) for one in read_many(two)]
    [('input, client 1', '1948'), ('input, client 2', '1950')]
    """
    together = Together()
    for name, item in _items(source, limit_bytes):
        if isinstance(item, bytes):
            found = formats.recognised(item, name)
            if not found.media:
                yield from found.read_many(item, name)
                continue
            undefined: list[Unknown] = []
            came = Came(name, found.name, found.resources(item, name, undefined), undefined, item)
        elif isinstance(item, dict) and "resourceType" in item:
            came = Came(name, "fhir-json", [item], loose=item["resourceType"] != "Bundle")
        else:
            yield from_data(item, name)
            continue
        if not together.take(came):
            yield from came.read()
    yield from together.read()


def read_all(inputs: Iterable[str | Path], *, limit_bytes: int = LIMIT) -> list[Input]:
    """Read files, folders and ``-`` (standard input): all that ``read_many`` yields."""
    return list(read_many(inputs, limit_bytes=limit_bytes))


def _items(source: Source | Iterable[Source], limit: int) -> Iterator[tuple[str, Json]]:
    """Yield name and content: bytes, or decoded data."""
    if isinstance(source, (str, Path, bytes, Mapping)):
        source = [source]
    for number, one in enumerate(source, 1):
        if isinstance(one, (str, Path)):
            yield from contents([one], limit)
        elif isinstance(one, (bytes, Mapping)):
            yield "input" if number == 1 else f"input {number}", one if isinstance(one, bytes) else dict(one)
        else:
            raise InputError(f"input {number}", "a path, bytes or decoded data", "Give a file, a folder or a Bundle")


def contents(inputs: Iterable[str | Path], limit: int = LIMIT) -> Iterator[tuple[str, bytes]]:
    """Yield name and bytes of every file that the inputs name."""
    for given in inputs:
        if str(given) == "-":
            yield "standard input", _whole(sys.stdin.buffer, "standard input", limit)
            continue
        path = Path(given)
        if path.is_dir():
            files = sorted(
                p for p in path.rglob("*") if formats.may_hold_a_record(p.name) and p.is_file() and not is_kept(p)
            )
            if not files:
                raise InputError(str(path), "a folder with records in it", "Name a file, or a folder that holds some")
            for file in files:
                yield str(file), load(file, limit)
        else:
            yield str(path), load(path, limit)


def load(path: Path, limit: int = LIMIT) -> bytes:
    """Return the bytes of a file that is not too large."""
    try:
        if path.is_dir():
            raise InputError(str(path), "a file", "Name the file inside the folder")
        with path.open("rb") as file:
            check_size(os.fstat(file.fileno()).st_size, limit, str(path))
            return _whole(file, str(path), limit)  # a pipe or a device has no size of its own
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


__all__ = ["DIFFERS", "LIMIT", "Input", "WoundfhirError", "contents", "load", "parse", "read", "read_all", "read_many"]
