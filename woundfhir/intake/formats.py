"""The file formats: one object each with its name, its suffixes, how it is recognised, read and written.

``FORMATS`` is the one table. Every verb, every help text and every suffix asks it; a format that does not serve a
verb says why in ``why_not``, and that sentence is what a user reads.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from woundfhir.errors import InputError
from woundfhir.intake.inputs import Input, from_data, from_resources, from_resources_many, only
from woundfhir.intake.recognise import FirstLook
from woundfhir.record import History

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any
Make = Callable[[History], Mapping[str, Json]]

#: The formats that are read and written, by their names; a test holds this against ``FORMATS``.
Name = Literal["record", "record-json", "csv", "fhir-json", "fhir-xml", "ndjson"]
#: What a format may serve: being read (every verb), ``convert --to``, ``bundle --to``, being what ``receive`` takes in.
VERBS = ("read", "convert", "bundle", "receive")


class Format:
    """One file format. A subclass gives both directions; what it does not do it explains in ``why_not``.

    Attributes
    ----------
    name
        What ``--to`` calls it.
    title
        A few words for help texts.
    suffixes
        Endings of file names, with the dot; the first one is written.
    media
        Media type; empty where the format carries no FHIR resource.
    joins
        Whether one file may hold the histories of several clients, each with what distinguishes it from the others.
    why_not
        Verb -> why the format does not serve it, and what to do instead.
    """

    name: ClassVar[str]
    title: ClassVar[str]
    suffixes: ClassVar[tuple[str, ...]]
    media: ClassVar[str] = ""
    joins: ClassVar[bool] = False
    why_not: ClassVar[Mapping[str, str]] = {}

    def recognise(self, look: FirstLook) -> bool:
        """Whether a file is of this format."""
        raise NotImplementedError(f"{self.name}: recognise")

    def read(self, content: bytes, where: str) -> Input:
        """Return the history in a file; ``where`` names it in messages."""
        raise self.refuse("read", where)

    def read_many(self, content: bytes, where: str) -> Iterator[Input]:
        """Yield the history of each client in a file."""
        yield self.read(content, where)

    def write(self, history: History) -> bytes:
        """Return a history as a file."""
        raise self.refuse("convert", "--to")

    def write_many(self, histories: Sequence[History]) -> bytes:
        """Return the histories of several clients as one file, where the format ``joins``."""
        return b"".join(self.write(one) for one in histories)

    def write_bundle(self, made: Mapping[str, Json], history: History, make: Make) -> bytes:
        """Return the Bundle ``made`` of a history as a file; ``make`` makes it again of that history with more kept."""
        raise self.refuse("bundle", "--to")

    def resources(self, content: bytes, where: str, undefined: list[Unknown]) -> list[dict[str, Json]]:
        """Return the FHIR resources in a file; ``undefined`` takes what stands in XML and R4 does not define."""
        raise self.refuse("receive", where)

    def refuse(self, verb: str, where: str) -> InputError:
        """Return the error of a verb that this format does not serve."""
        return InputError(where, f"another format than {self.name}", self.why_not[verb])


_NO_BUNDLE = "A Bundle is FHIR: use fhir-json or fhir-xml"
_NO_RECEIVE = "Make a Bundle of it with `woundfhir bundle`, and receive that"


class RecordYaml(Format):
    """The record as a nurse writes it."""

    name = "record"
    title = "the plain record in YAML"
    suffixes = (".yaml", ".yml")
    why_not: ClassVar = {"bundle": _NO_BUNDLE, "receive": _NO_RECEIVE}

    def recognise(self, look: FirstLook) -> bool:
        return look.yaml

    def read(self, content: bytes, where: str) -> Input:
        from woundfhir.record import files

        return from_data(files.read_yaml(_text(content, where), where), where, self.name)

    def write(self, history: History) -> bytes:
        from woundfhir.record import files

        return files.to_yaml(history)


class RecordJson(Format):
    """The same record for programs."""

    name = "record-json"
    title = "the plain record in JSON"
    suffixes = (".json",)
    why_not: ClassVar = {"bundle": _NO_BUNDLE, "receive": _NO_RECEIVE}

    def recognise(self, look: FirstLook) -> bool:
        return look.json

    def read(self, content: bytes, where: str) -> Input:
        return from_data(_json(content, where), where, self.name)

    def write(self, history: History) -> bytes:
        from woundfhir.record import files

        return files.to_json(history)


class RecordNdjson(Format):
    """Records one a line, for many clients."""

    name = "record-ndjson"
    title = "plain records in JSON, one client a line"
    suffixes = (".record.ndjson", ".record.jsonl")
    joins = True
    why_not: ClassVar = {"bundle": _NO_BUNDLE, "receive": _NO_RECEIVE}

    def recognise(self, look: FirstLook) -> bool:
        return look.record_ndjson

    def read(self, content: bytes, where: str) -> Input:
        return only(self.read_many(content, where), where)

    def read_many(self, content: bytes, where: str) -> Iterator[Input]:
        """Yield one after the other; FHIR resources on lines between the records come last, read together."""
        from woundfhir.r4 import ndjson

        resources: list[dict[str, Json]] = []
        for number, line in _at(where, lambda data: list(ndjson.lines(data)), content):
            place = f"{where}, line {number}"
            data = _json(line, place)
            if isinstance(data, dict) and "resourceType" in data:
                resources.append(data)
            else:
                yield from_data(data, place, self.name)
        if resources:
            yield from from_resources_many(resources, where, Ndjson.name)

    def write(self, history: History) -> bytes:
        return f"{history.json()}\n".encode()


class RecordCsv(Format):
    """The record as a table, a row for each wound at each visit."""

    name = "csv"
    title = "the plain record as a table"
    suffixes = (".csv",)
    joins = True
    why_not: ClassVar = {"bundle": _NO_BUNDLE, "receive": _NO_RECEIVE}

    def recognise(self, look: FirstLook) -> bool:
        return look.csv

    def read(self, content: bytes, where: str) -> Input:
        return only(self.read_many(content, where), where)

    def read_many(self, content: bytes, where: str) -> Iterator[Input]:
        from woundfhir.record.table_reading import read_csv

        for one in read_csv(_text(content, where), where):
            yield Input(one.source, one, self.name)

    def write(self, history: History) -> bytes:
        from woundfhir.record import table

        return table.to_csv(history)

    def write_many(self, histories: Sequence[History]) -> bytes:
        from woundfhir.record import table

        return table.to_csv_many(histories)


class _Fhir(Format):
    """What the FHIR formats share: they are read through their resources."""

    def read(self, content: bytes, where: str) -> Input:
        undefined: list[Unknown] = []
        return from_resources(self.resources(content, where, undefined), where, self.name, undefined)

    def read_many(self, content: bytes, where: str) -> Iterator[Input]:
        undefined: list[Unknown] = []
        for one in from_resources_many(self.resources(content, where, undefined), where, self.name, undefined):
            one.content = one.content or content
            yield one


class FhirJson(_Fhir):
    """A resource or a Bundle in JSON."""

    name = "fhir-json"
    title = "FHIR R4 in JSON, one Bundle"
    suffixes = (".fhir.json", ".json")
    media = "application/fhir+json"

    def recognise(self, look: FirstLook) -> bool:
        return look.fhir_json

    def resources(self, content: bytes, where: str, undefined: list[Unknown]) -> list[dict[str, Json]]:
        return [_json(content, where)]

    def write(self, history: History) -> bytes:
        return self.write_bundle(_collection(history), history, _collection)

    def write_bundle(self, made: Mapping[str, Json], history: History, make: Make) -> bytes:
        from woundfhir.r4 import jsonio

        return jsonio.encode_readable(made)


class FhirXml(_Fhir):
    """A resource or a Bundle in XML."""

    name = "fhir-xml"
    title = "FHIR R4 in XML, one Bundle"
    suffixes = (".fhir.xml", ".xml")
    media = "application/fhir+xml"

    def recognise(self, look: FirstLook) -> bool:
        return look.fhir_xml

    def resources(self, content: bytes, where: str, undefined: list[Unknown]) -> list[dict[str, Json]]:
        from woundfhir.r4 import xmlio

        return [_at(where, lambda data: xmlio.decode(data, unknown=undefined), content)]

    def write(self, history: History) -> bytes:
        return self.write_bundle(_collection(history), history, _collection)

    def write_bundle(self, made: Mapping[str, Json], history: History, make: Make) -> bytes:
        """Return readable XML; what came in JSON and R4 does not define is kept beside what was not understood."""
        from woundfhir.fhir.losses import keep_undefined
        from woundfhir.r4 import xmlio

        undefined: list[Unknown] = []
        content = xmlio.encode(made, unknown=undefined)
        if not undefined:
            return content
        held = History({**history.data}, history.source)
        keep_undefined(held, undefined)
        return xmlio.encode(make(held), unknown=[])


class Ndjson(_Fhir):
    """Resources one a line, for bulk work."""

    name = "ndjson"
    title = "FHIR R4 resources, one a line"
    suffixes = (".ndjson", ".jsonl")
    media = "application/fhir+ndjson"
    joins = True
    why_not: ClassVar = {"bundle": _NO_BUNDLE, "receive": _NO_RECEIVE}

    def recognise(self, look: FirstLook) -> bool:
        return look.ndjson

    def resources(self, content: bytes, where: str, undefined: list[Unknown]) -> list[dict[str, Json]]:
        from woundfhir.r4 import ndjson

        return _at(where, lambda data: list(ndjson.read(data)), content)  # type: ignore[no-any-return]

    def write(self, history: History) -> bytes:
        from woundfhir.fhir.convert import written
        from woundfhir.r4 import ndjson

        return ndjson.write(written(history)[0])

    def write_many(self, histories: Sequence[History]) -> bytes:
        """Return the resources of several clients, where each of them says whose it is; else refuse."""
        content = super().write_many(histories)
        if len(histories) > 1:
            again = [one.history.data for one in self.read_many(content, "--to")]
            if again != [one.data for one in histories]:
                wrong = "not all of it would come back: something names no client, or two records are of one client"
                fix = "Write record-ndjson or csv; or a file for each client: make a folder and name it with -o"
                raise InputError("--to", "a format that keeps these clients apart", fix, found=wrong)
        return content


class Sealed(Format):
    """What is encrypted or signed as a whole; ``receive`` opens it and then reads what is inside."""

    name = "sealed"
    title = "an encrypted or signed file (JOSE)"
    suffixes = (".jose",)
    why_not: ClassVar = {
        "read": "Open it with `woundfhir receive --key`",
        "convert": "Encrypt with `woundfhir bundle --encrypt-for`",
        "bundle": "Choose fhir-json or fhir-xml, and encrypt with --encrypt-for",
        "receive": "Give the key that opens it with --key",
    }

    def recognise(self, look: FirstLook) -> bool:
        return look.sealed

    def refuse(self, verb: str, where: str) -> InputError:
        return InputError(where, "a file that is not encrypted", self.why_not[verb])


#: In the order in which a file is asked: the first format that recognises it reads it.
FORMATS: dict[str, Format] = {
    one.name: one
    for one in (FhirXml(), RecordNdjson(), Ndjson(), Sealed(), FhirJson(), RecordJson(), RecordYaml(), RecordCsv())
}


def serving(verb: str) -> tuple[str, ...]:
    """Return the names of the formats that serve a verb, the plain record first.

    Examples
    --------
    >>> serving("bundle")
    ('fhir-json', 'fhir-xml')
    """
    found = [one for one in FORMATS.values() if verb not in one.why_not]
    return tuple(one.name for one in sorted(found, key=lambda one: (bool(one.media), one.name != "record", one.media)))


def named(name: str, verb: str = "convert") -> Format:
    """Return the format of a name.

    Raises
    ------
    InputError
        When there is none, or it does not serve the verb.
    """
    found = FORMATS.get(name)
    if found is None:
        raise InputError("--to", "one of " + ", ".join(serving(verb)), "Choose one of them")
    if verb in found.why_not:
        raise found.refuse(verb, "--to")
    return found


def of_suffix(path: PurePath, verb: str = "convert") -> Format | None:
    """Return the format that a file's name ends in, or None where no ending is known.

    Raises
    ------
    InputError
        Where the ending stands for several formats of the verb.

    Examples
    --------
    >>> of_suffix(PurePath("a.fhir.json")).name, of_suffix(PurePath("a.JSON"), "bundle").name, of_suffix(PurePath("a"))
    ('fhir-json', 'fhir-json', None)
    """
    ending = {one.name: _ending(path.name, one) for one in FORMATS.values() if verb not in one.why_not}
    longest = max(map(len, ending.values()), default=0)
    found = [name for name, end in ending.items() if longest and len(end) == longest]
    if len(found) > 1:
        several = " or ".join(sorted(found))
        raise InputError(str(path), f"a name that ends in one format; this ending is {several}", "Choose one with --to")
    return FORMATS[found[0]] if found else None


def chosen(name: str | None, path: PurePath | None, verb: str = "convert") -> Format | None:
    """Return the format to write: that of ``--to``, else that of the file's ending, else None.

    Examples
    --------
    >>> chosen(None, PurePath("a.csv")).name, chosen("ndjson", PurePath("a.csv")).name, chosen(None, None)
    ('csv', 'ndjson', None)
    """
    if name is not None:
        return named(name, verb)
    return None if path is None else of_suffix(path, verb)


def stem(name: str) -> str:
    """Return a file's name without the ending of its format.

    Examples
    --------
    >>> stem("story.fhir.json"), stem("story.v2.yaml"), stem("story")
    ('story', 'story.v2', 'story')
    """
    longest = max((_ending(name, one) for one in FORMATS.values()), key=len)
    return name[: len(name) - len(longest)] or name


def may_hold_a_record(name: str) -> bool:
    """Whether a file of a folder is looked at: its ending is that of a format that can be read."""
    return any(_ending(name, one) for one in FORMATS.values() if "read" not in one.why_not)


def _ending(name: str, one: Format) -> str:
    return max((end for end in one.suffixes if name.lower().endswith(end)), key=len, default="")


def recognised(content: bytes, where: str, verb: str | None = None) -> Format:
    """Return the format of a file's content; ``where`` names it.

    Raises
    ------
    InputError
        When no format recognises it, or the one that does serves another verb than this one.

    Examples
    --------
    >>> recognised(b'{"resourceType": "Patient"}', "a").name, recognised(b"woundfhir,wound.id", "b").name
    ('fhir-json', 'csv')
    """
    found = recognised_by(content)
    if found is None:
        raise InputError(where, "a wound record or FHIR resources", "See the files that `woundfhir demo` writes")
    if verb in found.why_not:
        raise found.refuse(str(verb), where)
    return found


def recognised_by(content: bytes) -> Format | None:
    """Return the first format that recognises a file's content, or None."""
    look = FirstLook(content)
    return next((one for one in FORMATS.values() if one.recognise(look)), None)


def _collection(history: History) -> dict[str, Json]:
    from woundfhir.fhir.bundles import collection

    return collection(history)


def _text(content: bytes, where: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{where}, byte {error.start}", "text in UTF-8", "Save the file as UTF-8") from None


def _json(content: bytes, where: str) -> Json:
    from woundfhir.r4 import jsonio

    return _at(where, jsonio.decode_checked, content)


def _at(where: str, decode: Callable[[bytes], Json], content: bytes) -> Json:
    try:
        return decode(content)
    except InputError as error:
        raise error.at(where) from None
