"""HL7 v2 messages as a file format: read through the resources that are made of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, ClassVar

from woundfhir.intake.fhir_formats import FhirBased
from woundfhir.intake.format import NO_BUNDLE, Format, Make, decoded, placed
from woundfhir.intake.inputs import Input, only
from woundfhir.intake.recognise import FirstLook
from woundfhir.record import History

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any


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


class V2Document(FhirBased):
    """A document of FHIR in the wrapper of a message MDM^T02."""

    name = "hl7-v2-mdm"
    title = "a document of FHIR in an HL7 v2 message MDM^T02"
    suffixes = (".mdm.hl7",)
    media = "application/hl7-v2"  # HL7 over HTTP (memory)
    why_not: ClassVar = {"convert": "Write it with `woundfhir bundle`: it carries a document"}

    def recognise(self, look: FirstLook) -> bool:
        from woundfhir.v2.document import is_document

        return look.v2 and is_document(look.raw)

    def resources(self, content: bytes, where: str, undefined: list[Unknown]) -> list[dict[str, Json]]:
        """Return the document; refuse one whose client is another than the message names."""
        from woundfhir.fhir.around import hold_against
        from woundfhir.v2.document import unwrapped

        held, named = placed(where, unwrapped, content)
        document = decoded(held, f"{where}, OBX-5")
        placed(where, lambda _: hold_against(named, [document], "PID"), held)
        return [document]

    def write(self, history: History) -> bytes:
        raise self.refuse("convert", "--to")

    def write_bundle(self, made: Mapping[str, Json], history: History, make: Make) -> bytes:
        from woundfhir.r4 import jsonio
        from woundfhir.v2.document import wrapped

        return wrapped(made, jsonio.encode(made))
