"""Files of tables that grow as clients come: what is held is one row group of each table, however many there are."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from woundfhir.flat.arrow import Writer
from woundfhir.flat.rows import Clients, rows_of
from woundfhir.flat.schema import Name, tables
from woundfhir.record import History

_decode = msgspec.json.Decoder().decode


class TableSink:
    """Takes the records of many clients, and adds their rows to the files of tables.

    Parameters
    ----------
    writers
        Name of a table -> its file.
    """

    def __init__(self, writers: Mapping[Name, Writer]) -> None:
        self._writers = writers
        self._tables = [tables()[name] for name in writers]
        self._clients = Clients()
        self.rows: dict[Name, int] = dict.fromkeys(writers, 0)

    def __enter__(self) -> TableSink:
        return self

    def __exit__(self, kind: object, *_: object) -> None:
        if kind is not None:
            for writer in self._writers.values():
                writer.abandon()

    def write(self, content: bytes) -> None:
        """Take records in JSON, one a line, in canonical form: what a stream of ``record-ndjson`` gives."""
        for line in content.splitlines():
            data: Any = _decode(line)
            self.take(History(data, f"client {self._clients.count + 1}"))

    def take(self, history: History) -> None:
        """Take one client's record."""
        for name, rows in rows_of(self._clients.open(history), self._tables).items():
            self._writers[name].add(rows)
            self.rows[name] += len(rows)

    def end(self) -> None:
        """Write what is left of each file."""
        for writer in self._writers.values():
            writer.end()
