"""HL7 CDA R2 as a file format: read through the resources that are made of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from woundfhir.errors import InputError
from woundfhir.intake.format import NO_BUNDLE, Format, placed
from woundfhir.intake.inputs import Input, only
from woundfhir.intake.recognise import FirstLook


class Cda(Format):
    """A clinical document in XML, as C-CDA shapes it."""

    name = "cda"
    title = "HL7 CDA R2, a C-CDA document"
    suffixes = (".cda", ".ccda", ".xml")
    why_not: ClassVar = {"convert": "Write fhir-xml or fhir-json", "bundle": NO_BUNDLE}

    def recognise(self, look: FirstLook) -> bool:
        return look.cda

    def read(self, content: bytes, where: str) -> Input:
        return only(self.read_many(content, where), where)

    def read_many(self, content: bytes, where: str) -> Iterator[Input]:
        from woundfhir.cda.read import read
        from woundfhir.intake.traced import traced

        found = list(traced(placed(where, read, content), where, self.name))
        if len(found) > 1:
            fix = "Ask the sender for a document for each of them; nothing was read"
            raise InputError(where, "a document about one client", fix, found=f"it names {len(found)} clients")
        for one in found:
            one.content = one.content or content
            yield one
