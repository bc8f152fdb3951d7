"""FHIR as a file: JSON, XML, resources one a line; and what is encrypted or signed as a whole."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from typing import TYPE_CHECKING, Any, ClassVar

from woundfhir.errors import InputError
from woundfhir.fhir.dialects.names import Name as Dialect
from woundfhir.intake.format import NO_BUNDLE, Format, Make, placed
from woundfhir.intake.inputs import Input, from_own_lines, from_resources, from_resources_many
from woundfhir.intake.recognise import FirstLook
from woundfhir.record import History

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any


class FhirBased(Format):
    """What the FHIR formats share: they are read through their resources."""

    def speaking(self, dialect: Dialect | None) -> Format:
        made = copy(self)
        made.dialect = dialect
        return made

    def _collection(self, history: History) -> dict[str, Json]:
        from woundfhir.fhir.bundles import collection

        return collection(history, dialect=self.dialect)

    def read(self, content: bytes, where: str) -> Input:
        undefined: list[Unknown] = []
        return from_resources(self.resources(content, where, undefined), where, self.name, undefined)

    def read_many(self, content: bytes, where: str) -> Iterator[Input]:
        undefined: list[Unknown] = []
        for one in from_resources_many(self.resources(content, where, undefined), where, self.name, undefined):
            one.content = one.content or content
            yield one


class FhirJson(FhirBased):
    """A resource or a Bundle in JSON; resources in brackets are read too."""

    name = "fhir-json"
    title = "FHIR R4 in JSON, one Bundle"
    suffixes = (".fhir.json", ".json")
    media = "application/fhir+json"

    def recognise(self, look: FirstLook) -> bool:
        return look.fhir_json

    def resources(self, content: bytes, where: str, undefined: list[Unknown]) -> list[dict[str, Json]]:
        from woundfhir.r4 import jsonio

        return placed(where, jsonio.decode_objects_checked, content)  # type: ignore[no-any-return]

    def write(self, history: History) -> bytes:
        return self.write_bundle(self._collection(history), history, self._collection)

    def write_bundle(self, made: Mapping[str, Json], history: History, make: Make) -> bytes:
        from woundfhir.r4 import jsonio

        return jsonio.encode_readable(made)


class FhirXml(FhirBased):
    """A resource or a Bundle in XML."""

    name = "fhir-xml"
    title = "FHIR R4 in XML, one Bundle"
    suffixes = (".fhir.xml", ".xml")
    media = "application/fhir+xml"

    def recognise(self, look: FirstLook) -> bool:
        return look.fhir_xml

    def resources(self, content: bytes, where: str, undefined: list[Unknown]) -> list[dict[str, Json]]:
        from woundfhir.r4 import xmlio

        return [placed(where, lambda data: xmlio.decode(data, unknown=undefined), content)]

    def write(self, history: History) -> bytes:
        return self.write_bundle(self._collection(history), history, self._collection)

    def write_bundle(self, made: Mapping[str, Json], history: History, make: Make) -> bytes:
        """Return readable XML; what came in JSON and XML cannot say is kept beside what was not understood."""
        from woundfhir.fhir.undefined import keep_undefined
        from woundfhir.r4 import xmlio

        try:
            return xmlio.encode(made)
        except InputError:
            held = self._held(history)
        undefined: list[Unknown] = []
        content = xmlio.encode(make(held), unknown=undefined)
        if not undefined:
            return content
        held = History({**held.data}, held.source)
        keep_undefined(held, undefined)
        return xmlio.encode(make(held), unknown=[])

    def _held(self, history: History) -> History:
        """Return a history in which what XML cannot say is carried word for word.

        Other resources may have been read by the help of one that is carried; where the record does not come back the
        same, all of it goes out in our own form, and all that came is carried.
        """
        from woundfhir.fhir.carrying import all_carried, made_sayable
        from woundfhir.r4 import xmlio

        held = made_sayable(history, _in_xml)
        try:
            back = self.read(xmlio.encode(self._collection(held), readable=False, unknown=[]), self.name).history
        except InputError:
            back = None
        same = back is not None and {**back.data, "extra": ()} == {**history.data, "extra": ()}
        return held if same else all_carried(history)


def _in_xml(resource: Mapping[str, Json], fact: bool) -> bool:
    """Whether XML can say a resource; of a fact, what R4 does not define is kept apart and hinders nothing."""
    from woundfhir.r4 import xmlio

    try:
        xmlio.encode(resource, unknown=[] if fact else None)
    except InputError:
        return False
    return True


class Ndjson(FhirBased):
    """Resources one a line, for bulk work."""

    name = "ndjson"
    title = "FHIR R4 resources, one a line"
    suffixes = (".ndjson", ".jsonl")
    media = "application/fhir+ndjson"
    joins = True
    why_not: ClassVar = {"bundle": NO_BUNDLE}

    def recognise(self, look: FirstLook) -> bool:
        return look.ndjson

    def read(self, content: bytes, where: str) -> Input:
        return from_own_lines(content, where, self.name) or super().read(content, where)

    def read_many(self, content: bytes, where: str) -> Iterator[Input]:
        if (own := from_own_lines(content, where, self.name)) is None:
            yield from super().read_many(content, where)
            return
        own.content = content
        yield own

    def resources(self, content: bytes, where: str, undefined: list[Unknown]) -> list[dict[str, Json]]:
        from woundfhir.r4 import ndjson

        return placed(where, lambda data: list(ndjson.read(data, typed=False)), content)  # type: ignore[no-any-return]

    def write(self, history: History) -> bytes:
        from woundfhir.fhir.bundles import EMPTY
        from woundfhir.fhir.convert import lines

        content = lines(history, self.dialect)
        if not content:
            raise InputError("the record", *EMPTY)
        return content

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
