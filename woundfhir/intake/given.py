"""What a Python program may give where a record or FHIR is asked for: paths, text, bytes, open files, decoded data.

A text may be a path or the content itself. It is content where a format recognises it; so a record is never taken for
the name of a file, and never stands in a message.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextvars import copy_context
from pathlib import Path
from typing import IO, Any

from woundfhir.errors import InputError
from woundfhir.fhir.fates import Taken
from woundfhir.fhir.losses import Loss, Losses
from woundfhir.intake import formats, source
from woundfhir.intake.inputs import Input, from_data, from_resources
from woundfhir.intake.mapped import using
from woundfhir.intake.result import ReadResult
from woundfhir.limits import check_size, read_whole
from woundfhir.record import History
from woundfhir.record.canonical import UNKNOWN
from woundfhir.record.values import plain

Json = Any
#: The content of a file.
Content = str | bytes | bytearray | memoryview
#: Content, the path of a file, or a file open for reading.
File = Content | os.PathLike[str] | IO[bytes] | IO[str]
#: A file, or decoded data: a record, a FHIR resource or Bundle, or a list of resources.
Given = File | Mapping[str, Json] | Sequence[Mapping[str, Json]]
#: Files or folders with maps of codes: one, or several.
Maps = str | os.PathLike[str] | Sequence[str | os.PathLike[str]]
#: A text that may be the name of a file: one line, with an ending.
_NAME = re.compile(r"[^\x00-\x1f{}<>\"|*?]{1,4096}")
_FORMS = "a path, text, bytes, an open file, or decoded data"


def read(given: Given, *, format: formats.Name | None = None, maps: Maps = ()) -> ReadResult:
    """Read one client's history.

    Parameters
    ----------
    given
        The path of a file or of a client's folder; the content of a file as text or bytes; a file open for reading;
        decoded data: a record, a FHIR resource or Bundle, or a list of resources. It is not changed.
    format
        The format of the content; without it the content is recognised by what it is.
    maps
        Files, or folders of files, that say what codes mean (TSV with the columns of SSSOM, FHIR ConceptMap); a later
        one decides about the codes that it names.

    Returns
    -------
    ReadResult
        ``history, report``.

    Raises
    ------
    InputError
        Says where, what was expected and what to do; never a value of the input.

    Examples
    --------
    >>> history, report = read(b'{"woundfhir": 1, "patient": {"born": "1948-03"}}')
    >>> history.patient, len(report)
    ({'born': '1948-03'}, 0)
    >>> read({"resourceType": "Patient", "birthDate": "1948-03"}).history.patient["born"]
    '1948-03'
    """
    with using(_paths(maps)):
        if isinstance(given, Mapping):
            return _result(from_data(plain(given), "input"))
        if _is_list(given):
            return _result(from_resources([plain(one) for one in _resources(given)], "input", "fhir-json"))
        name, content = content_of(given)
        return _result(_parse(content, name, format))


def read_many(given: Given | Iterable[Given], *, maps: Maps = ()) -> Iterator[Input]:
    """Read the histories of many clients, one after the other.

    Inputs are read one by one, and each client of one has a history of their own. Two kinds of files are one input
    together: the pages of a search on one server, and NDJSON files with one type of resource each, named by it, in one
    folder (as HL7's bulk data has them). Nothing else is joined: a client in two other files is two histories.

    Parameters
    ----------
    given
        What ``read`` takes, a folder of files, ``-`` (standard input), or several of these. Decoded FHIR resources
        that are no Bundles are one input together.
    maps
        As of ``read``.

    Yields
    ------
    Input
        It unpacks into ``history, report``; also ``name``, and ``kind`` (the format).

    Raises
    ------
    InputError
        For a missing file, an empty folder, and whatever ``read`` refuses.

    Examples
    --------
    >>> two = b"woundfhir,patient.identifiers.1.value,patient.born\\n1,A,1948\\n1,B,1950\\n"
    >>> [(history.patient["born"], report.summary) for history, report in read_many(two)]
    [('1948', '2 of 2 values understood'), ('1950', '2 of 2 values understood')]
    """
    histories = source.histories(_items(given))
    around = copy_context()  # a generator's own: the maps hold while it works, and not for whoever asks it
    held = using(_paths(maps))
    around.run(held.__enter__)
    try:
        while (one := around.run(next, histories, None)) is not None:
            if one.report is None:
                one.report = _of_record(one.history)
            yield one
    finally:
        around.run(held.__exit__, None, None, None)


def _paths(maps: Maps) -> list[Path]:
    """Return the files of maps; one alone needs no list, and a text that is content is no name."""
    return [file_name(one) for one in ([maps] if isinstance(maps, str | os.PathLike) else maps)]


def _items(given: Any) -> Iterator[tuple[str, Json]]:
    one = isinstance(given, Content | os.PathLike | Mapping) or callable(getattr(given, "read", None))
    if not one and not isinstance(given, Iterable):
        raise InputError("input", _FORMS, "Give one of them, or a list", found=f"it is of type {type(given).__name__}")
    for number, item in enumerate([given] if one else given, 1):
        name = "input" if number == 1 else f"input {number}"
        if isinstance(item, Mapping):
            yield name, plain(item, name)
        elif item == "-" or (isinstance(item, str | os.PathLike) and _is_folder(item)):
            yield from source.opened([item])
        elif isinstance(item, os.PathLike) and source.is_long_table(Path(item)):
            yield str(item), Path(item)
        else:
            label, content = content_of(item)
            yield name if label == "input" else label, content


def _is_folder(given: str | os.PathLike[str]) -> bool:
    return _exists(Path(given)) and Path(given).is_dir()


def loads(content: Content, *, format: formats.Name | None = None) -> History:
    """Return the history in the content of a file: the opposite of ``dumps``, exact to the last digit.

    Parameters
    ----------
    content
        JSON, YAML, CSV or XML as text or UTF-8 bytes.
    format
        The format of the content; without it the content is recognised by what it is.

    Raises
    ------
    InputError
        For what is no record and no FHIR R4; never with a value of it.

    Examples
    --------
    >>> loads("{woundfhir: 1, patient: {born: 1948-03}}", format="record").patient
    {'born': '1948-03'}
    """
    if not isinstance(content, Content):
        raise InputError("content", "text or bytes", "For a path or decoded data take `read`")
    return _parse(as_bytes(content), "content", format).history


def _parse(content: bytes, name: str, format: formats.Name | None) -> Input:
    check_size(len(content), source.LIMIT, name)
    return source.parse(content, name) if format is None else formats.named(format, "read").read(content, name)


def _is_list(given: object) -> bool:
    return isinstance(given, Sequence) and not isinstance(given, Content)


def _resources(given: Any) -> list[Mapping[str, Json]]:
    if not given or not all(isinstance(one, Mapping) for one in given):
        raise InputError("input", "a list of FHIR resources, each a dict", "Give the resources as decoded from JSON")
    return list(given)


def as_bytes(content: Content) -> bytes:
    """Return content as bytes; text in UTF-8.

    Raises
    ------
    InputError
        For text that holds half a character (a lone surrogate).
    """
    if not isinstance(content, str):
        return bytes(content)
    try:
        return content.encode()
    except UnicodeEncodeError:
        raise InputError("text", "text that UTF-8 can write", "Take out halves of characters (surrogates)") from None


def content_of(given: Any) -> tuple[str, bytes]:
    """Return name and content of a file, however a program gives it.

    Raises
    ------
    InputError
        For a file that cannot be read, a folder that is not one client's, and for what is neither of these.
    """
    if isinstance(given, str):
        return _text(given)
    if isinstance(given, Content):
        return "input", as_bytes(given)
    if isinstance(given, os.PathLike):
        return _path(Path(given))
    if callable(getattr(given, "read", None)):
        return _stream(given)
    fix = "Objects of fhir.resources are read by `from_fhir`, typed models of a record by `History.of`"
    raise InputError("input", _FORMS, fix, found=f"it is of type {type(given).__name__}")


def _text(given: str) -> tuple[str, bytes]:
    """Tell a path from content. What is neither is not repeated: it may be somebody's note."""
    content = as_bytes(given)
    if formats.recognised_by(content) is not None:
        return "text", content
    if _NAME.fullmatch(given):
        path = Path(given)
        if _exists(path) or formats.may_hold_a_record(path.name):
            return _path(path)
    wrong = "neither the content of one nor the name of a file that is there"
    raise InputError("the text given", "a record or FHIR resources, or a file of these", _SEE, found=wrong)


_SEE = "Give a pathlib.Path for a file; see the files that `woundfhir demo` writes"


def file_name(given: str | os.PathLike[str]) -> Path:
    """Return the path of a file to be written; a text that is content, or cannot be a name, is refused unrepeated."""
    if isinstance(given, str) and (not _NAME.fullmatch(given) or formats.recognised_by(as_bytes(given)) is not None):
        raise InputError("path", "the name of a file", "Give the history first, then the path")
    return Path(given)


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):  # too long for a name, or with a zero byte
        return False


def _path(path: Path) -> tuple[str, bytes]:
    if not _is_folder(path):
        return str(path), source.load(path)
    found = list(source.contents([path]))
    if len(found) != 1:
        expected = "a file, or a folder with the record of one client"
        raise InputError(str(path), expected, "Name the file inside the folder", found=f"it holds {len(found)} records")
    return found[0]


def _stream(given: Any) -> tuple[str, bytes]:
    """Read an open file from where it stands; its name is that of its path, where it has one."""
    label = getattr(given, "name", None)
    name = str(label) if isinstance(label, str | os.PathLike) else "the open file"
    try:
        first = given.read(0)
        if isinstance(first, str):
            text = given.read(source.LIMIT + 1)
            check_size(len(text), source.LIMIT, name)
            return name, as_bytes(text)
        return name, read_whole(given)
    except UnicodeDecodeError:
        raise InputError(name, "text in UTF-8", "Open it in binary mode, or save it as UTF-8") from None
    except OSError as error:
        wrong = f"it cannot be read ({error.strerror or type(error).__name__})"
        raise InputError(name, "a file open for reading", "Open it for reading", found=wrong) from None
    except ValueError:
        raise InputError(name, "a file open for reading", "Open it again", found="it is closed") from None


def _result(found: Input) -> ReadResult:
    # A report on which nothing is listed is empty, and still the report of what came.
    return ReadResult(found.history, found.report if found.report is not None else _of_record(found.history))


def _of_record(history: History) -> Losses:
    """Report on a plain record: every answer is understood but those under keys that the record does not have."""
    unknown = [item for item in history.extra if item.get("why") == UNKNOWN]
    items = tuple(Loss(item.get("place", ""), "record", UNKNOWN) for item in unknown)
    answers = {"patient": history.patient, "wounds": history.wounds, "visits": history.visits}
    return Losses((Taken("record", answers, all_of=("understood", "an answer of the record")),), more=items)
