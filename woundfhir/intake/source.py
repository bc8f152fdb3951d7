"""Files, folders and standard input: their bytes, and the history that they hold, recognised by their content."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, BinaryIO

from woundfhir.errors import InputError, WoundfhirError
from woundfhir.intake import formats
from woundfhir.intake.client_folder import is_kept
from woundfhir.intake.inputs import DIFFERS, Input, from_data
from woundfhir.limits import LIMIT, check_size, read_whole
from woundfhir.record import History

Json = Any


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


def read_all(inputs: Sequence[str | Path], *, limit_bytes: int = LIMIT) -> list[Input]:
    """Read files, folders and ``-`` (standard input), each to one history.

    Raises
    ------
    InputError
        For a missing file, an empty folder, and whatever ``read`` refuses.
    """
    return [parse(content, name) for name, content in contents(inputs, limit_bytes)]


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


__all__ = ["DIFFERS", "LIMIT", "Input", "WoundfhirError", "contents", "load", "parse", "read", "read_all"]
