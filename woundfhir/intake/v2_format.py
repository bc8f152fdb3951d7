"""HL7 v2 messages as a file format: read through the resources that are made of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from woundfhir.intake.format import NO_BUNDLE, Format, placed
from woundfhir.intake.inputs import Input, only
from woundfhir.intake.recognise import FirstLook


class V2(Format):
    """Results as HL7 v2 messages, one, several, or a batch; of one client or many."""

    name = "hl7-v2"
    title = "HL7 v2, messages ORU^R01"
    suffixes = (".hl7", ".hl7v2")
    why_not: ClassVar = {"convert": "Write fhir-json or ndjson", "bundle": NO_BUNDLE}

    def recognise(self, look: FirstLook) -> bool:
        return look.v2

    def read(self, content: bytes, where: str) -> Input:
        return only(self.read_many(content, where), where)

    def read_many(self, content: bytes, where: str) -> Iterator[Input]:
        from woundfhir.intake.traced import traced
        from woundfhir.v2.read import read

        for one in traced(placed(where, read, content), where, self.name):
            one.content = one.content or content
            yield one
