"""Anything that can come in, recognised by its content: a record in JSON, YAML or CSV, FHIR in JSON, XML or NDJSON."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from woundfhir.errors import InputError, WoundfhirError
from woundfhir.limits import LIMIT, check_size, readable_size
from woundfhir.record import History

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any

#: Why a computed value is kept: the record gives another.
DIFFERS = "a computed value that the record does not give: not used"
_SUFFIXES = frozenset((".json", ".yaml", ".yml", ".csv", ".xml", ".ndjson", ".jsonl"))


@dataclass(slots=True)
class Input:
    """One history that came in, where from, and what of it was not understood."""

    name: str
    history: History
    kind: str
    losses: list[str] = field(default_factory=list)
    content: bytes = b""


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
        return _decoded(source, "input").history
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
            yield "standard input", _limited(sys.stdin.buffer.read(limit + 1), "standard input", limit)
            continue
        path = Path(given)
        if path.is_dir():
            files = sorted(p for p in path.rglob("*") if p.suffix.lower() in _SUFFIXES and p.is_file())
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
        check_size(path.stat().st_size, limit, str(path))
        return path.read_bytes()
    except FileNotFoundError:
        raise InputError(str(path), "a file that exists", "Check the name and the folder") from None
    except OSError as error:
        raise InputError(str(path), "a file that can be read", f"The system says: {error.strerror}") from None


def _limited(content: bytes, name: str, limit: int) -> bytes:
    if len(content) > limit:
        raise InputError(name, f"at most {readable_size(limit)}", "Split the input")
    return content


def parse(content: bytes, name: str) -> Input:
    """Recognise bytes by their content and read them."""
    from woundfhir.intake.recognise import sniff

    kind = sniff(content)
    if kind in ("record-json", "fhir-json"):
        from woundfhir.r4 import jsonio

        found = _decoded(_at(name, jsonio.decode_checked, content), name)
    elif kind == "record-yaml":
        from woundfhir.record import files

        found = _decoded(files.read_yaml(_text(content, name), name), name)
    elif kind == "record-csv":
        from woundfhir.record import table

        found = Input(name, table.read_csv(_text(content, name), name), kind)
    elif kind in ("fhir-xml", "ndjson"):
        undefined: list[Unknown] = []
        found = _fhir(resources(content, kind, name, undefined), name, kind, undefined)
    elif kind == "sealed":
        raise InputError(name, "a file that is not encrypted", "Open it with `woundfhir receive --key`")
    else:
        raise InputError(name, "a wound record or FHIR resources", "See the files that `woundfhir demo` writes")
    found.content = content
    return found


def _text(content: bytes, name: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{name}, byte {error.start}", "text in UTF-8", "Save the file as UTF-8") from None


def _at(name: str, decode: Any, content: bytes) -> Json:
    try:
        return decode(content)
    except InputError as error:
        raise error.at(name) from None


def resources(content: bytes, kind: str, name: str, undefined: list[Unknown]) -> list[dict[str, Json]]:
    """Return the resources of a FHIR input, exact decimals kept.

    ``undefined`` takes what stands in XML and R4 does not define.

    Raises
    ------
    InputError
        As ``read`` does.
    """
    if kind == "fhir-json":
        from woundfhir.r4 import jsonio

        return [_at(name, jsonio.decode_checked, content)]
    if kind == "ndjson":
        from woundfhir.r4 import ndjson

        return _at(name, lambda data: list(ndjson.read(data)), content)  # type: ignore[no-any-return]
    from woundfhir.r4 import xmlio

    return [_at(name, lambda data: xmlio.decode(data, unknown=undefined), content)]


def _decoded(data: Json, name: str) -> Input:
    if isinstance(data, dict) and "resourceType" in data:
        return _fhir([data], name, "fhir-json")
    if not isinstance(data, dict):
        raise InputError(name, "one record: keys and values", "Start with `woundfhir: 1` and `patient:`")
    return Input(name, History.of(data, name), "record")


def _fhir(resources: list[dict[str, Json]], name: str, kind: str, undefined: Sequence[Unknown] = ()) -> Input:
    from woundfhir.fhir.losses import keep_undefined
    from woundfhir.intake.resources import from_fhir

    try:
        history, losses = from_fhir(resources)
    except InputError as error:
        raise error.at(name) from None
    except (AttributeError, TypeError, KeyError, ValueError, IndexError):
        raise InputError(name, "FHIR R4 resources of the right structure", _WHERE_TO_LOOK) from None
    history.source = name
    lines = [*losses.lines(), *keep_undefined(history, undefined), *_differing(history, losses.computed)]
    return Input(name, history, kind, lines)


def _differing(history: History, came: tuple[Mapping[str, Json], ...]) -> list[str]:
    """Keep computed values that the record does not give, and say so: they are recomputed, never trusted."""
    if not came:
        return []
    from woundfhir.handover.computed import differences
    from woundfhir.record.canonical import as_json

    wrong = differences(history, came)
    items = [{"from": f"Observation/{r.get('id', '')}", "why": DIFFERS, "value": as_json(dict(r))} for r in wrong]
    if items:
        history.keep(items)
    return [f"{item['from']}: {DIFFERS}" for item in items]


_WHERE_TO_LOOK = "Check them with a FHIR validator; an element holds the wrong kind of value"


__all__ = ["LIMIT", "Input", "WoundfhirError", "contents", "load", "parse", "read", "read_all"]
