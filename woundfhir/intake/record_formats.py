"""The plain record as a file: YAML, JSON, one a line, a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, ClassVar

from woundfhir.intake.fhir_formats import Ndjson
from woundfhir.intake.format import NO_BUNDLE, Format, decoded, placed, text
from woundfhir.intake.inputs import Input, from_data, from_resources_many, only
from woundfhir.intake.recognise import FirstLook
from woundfhir.record import History

Json = Any


class RecordYaml(Format):
    """The record as a nurse writes it."""

    name = "record"
    title = "the plain record in YAML"
    suffixes = (".yaml", ".yml")
    why_not: ClassVar = {"bundle": NO_BUNDLE}

    def recognise(self, look: FirstLook) -> bool:
        return look.yaml

    def read(self, content: bytes, where: str) -> Input:
        from woundfhir.record import files

        return from_data(files.read_yaml(text(content, where), where), where, self.name)

    def write(self, history: History) -> bytes:
        from woundfhir.record import files

        return files.to_yaml(history)


class RecordJson(Format):
    """The same record for programs."""

    name = "record-json"
    title = "the plain record in JSON"
    suffixes = (".json",)
    why_not: ClassVar = {"bundle": NO_BUNDLE}

    def recognise(self, look: FirstLook) -> bool:
        return look.json

    def read(self, content: bytes, where: str) -> Input:
        return from_data(decoded(content, where), where, self.name)

    def write(self, history: History) -> bytes:
        from woundfhir.record import files

        return files.to_json(history)


class RecordNdjson(Format):
    """Records one a line, for many clients."""

    name = "record-ndjson"
    title = "plain records in JSON, one client a line"
    suffixes = (".record.ndjson", ".record.jsonl")
    joins = True
    why_not: ClassVar = {"bundle": NO_BUNDLE}

    def recognise(self, look: FirstLook) -> bool:
        return look.record_ndjson

    def read(self, content: bytes, where: str) -> Input:
        return only(self.read_many(content, where), where)

    def read_many(self, content: bytes, where: str) -> Iterator[Input]:
        """Yield one after the other; FHIR resources on lines between the records come last, read together."""
        from woundfhir.r4 import ndjson

        resources: list[dict[str, Json]] = []
        for number, line in placed(where, lambda data: list(ndjson.lines(data)), content):
            place = f"{where}, line {number}"
            data = decoded(line, place)
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
    why_not: ClassVar = {"bundle": NO_BUNDLE}

    def recognise(self, look: FirstLook) -> bool:
        return look.csv

    def read(self, content: bytes, where: str) -> Input:
        return only(self.read_many(content, where), where)

    def read_many(self, content: bytes, where: str) -> Iterator[Input]:
        from woundfhir.record.table_reading import read_csv

        for one in read_csv(text(content, where), where):
            yield Input(one.source, one, self.name)

    def write(self, history: History) -> bytes:
        from woundfhir.record import table

        return table.to_csv(history)

    def write_many(self, histories: Sequence[History]) -> bytes:
        from woundfhir.record import table

        return table.to_csv_many(histories)
