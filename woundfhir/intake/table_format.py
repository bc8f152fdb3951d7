"""Tables of others as a file format: read by a mapping, and without one refused with what was recognised."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import ClassVar

from woundfhir.intake.format import NO_BUNDLE, Format
from woundfhir.intake.inputs import Input, only
from woundfhir.intake.recognise import FirstLook


class Table(Format):
    """A table of others: CSV in any form, or a workbook."""

    name = "table"
    title = "a table of others (CSV, XLSX), with a mapping"
    suffixes = (".tsv", ".xlsx", ".xlsm")
    why_not: ClassVar = {"convert": "Write csv, the record's own table", "bundle": NO_BUNDLE}

    def suffix_of(self, content: bytes) -> str:
        return ".xlsx" if content.startswith(b"PK") else ".csv"

    def recognise(self, look: FirstLook) -> bool:
        return look.table

    def read(self, content: bytes, where: str) -> Input:
        return only(self.read_many(content, where), where)

    def read_many(self, content: bytes | Path, where: str) -> Iterator[Input]:
        from woundfhir.tables.in_force import in_force, read_by

        mappings = in_force()
        if not mappings:
            from woundfhir.tables.recognise import no_mapping

            raise no_mapping(content, where)
        for one in read_by(mappings, content, where):
            one.history.source = one.title
            yield Input(one.title, one.history, self.name, report=one.report, of_client=one.named)
