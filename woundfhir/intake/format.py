"""What a file format is: one object with its name, its suffixes, how it is recognised, read and written."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, ClassVar

from woundfhir.collector import resting
from woundfhir.errors import InputError
from woundfhir.fhir.dialects.names import Name as Dialect
from woundfhir.intake.inputs import Input
from woundfhir.intake.recognise import FirstLook
from woundfhir.record import History

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any
Make = Callable[[History], Mapping[str, Json]]
NO_BUNDLE = "A Bundle is FHIR: use fhir-json or fhir-xml"


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
    dialect
        Of FHIR: in which dialect it writes.
    why_not
        Verb -> why the format does not serve it, and what to do instead.
    """

    name: ClassVar[str]
    title: ClassVar[str]
    suffixes: ClassVar[tuple[str, ...]]
    media: ClassVar[str] = ""
    joins: ClassVar[bool] = False
    why_not: ClassVar[Mapping[str, str]] = {}
    dialect: Dialect | None = None

    def speaking(self, dialect: Dialect | None) -> Format:
        """Return this format, writing in a dialect of FHIR.

        Raises
        ------
        InputError
            Where it writes no FHIR.
        """
        if dialect is None:
            return self
        raise InputError("--dialect", "a format of FHIR: fhir-json, fhir-xml or ndjson", "Choose one of them with --to")

    def suffix_of(self, content: bytes) -> str:
        """Return the ending under which bytes that came in this format are kept."""
        return min(self.suffixes, key=len)

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
        raise NotImplementedError(f"{self.name}: resources")

    def refuse(self, verb: str, where: str) -> InputError:
        """Return the error of a verb that this format does not serve."""
        return InputError(where, f"another format than {self.name}", self.why_not[verb])


def text(content: bytes, where: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{where}, byte {error.start}", "text in UTF-8", "Save the file as UTF-8") from None


def decoded(content: bytes, where: str) -> Json:
    from woundfhir.r4 import jsonio

    return placed(where, jsonio.decode_checked, content)


@resting()
def placed(where: str, decode: Callable[[bytes], Json], content: bytes) -> Json:
    try:
        return decode(content)
    except InputError as error:
        raise error.at(where) from None
