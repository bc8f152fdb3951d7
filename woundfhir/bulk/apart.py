"""Inputs of every other form as tasks, a client or a file at a time: tables, notes, Bundles, whole exports.

The order, and what is read together, are those of ``intake.source.histories``, which reads an input as a whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from woundfhir.bulk.work import Done, Task
from woundfhir.errors import InputError
from woundfhir.intake import formats
from woundfhir.intake.inputs import Input
from woundfhir.intake.source import opened
from woundfhir.intake.together import Decoded, Together

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Tell = Callable[[Input], list[str]]
#: The form in which a client goes to a worker, where this process has read it.
RECORD = "record-ndjson"


@dataclass(slots=True)
class Piece:
    """A task, the file and line of each of its lines, and what this process found when it read them."""

    task: Task
    places: list[tuple[int, int]] = field(default_factory=list)
    before: Done | None = None


def pieces(names: Iterable[str], to: str, tell: Tell) -> Iterator[Piece]:
    """Yield the tasks of files.

    A table is read here, row by row, and its clients are handed on one by one; of what cannot be read there is a task
    that says why.
    """
    together = Together()
    for name in names:
        try:
            ((name, item),) = opened([name])
            yield from _of_one(name, item, together, to, tell)
        except InputError as error:
            yield Piece(Task(name, b"", RECORD, to, tell, error))
    for group in together.groups():
        try:
            for one in group:
                yield Piece(Task(one.name, b"", one.kind, to, tell, given=one))
        except InputError as error:
            yield Piece(Task(error.where, b"", RECORD, to, tell, error))


def _of_one(name: str, item: bytes | Path, together: Together, to: str, tell: Tell) -> Iterator[Piece]:
    found = formats.TABLE if isinstance(item, Path) else formats.recognised(item, name)
    if found is formats.TABLE:
        yield from _of_table(formats.TABLE.read_many(item, name), to, tell)
        return
    assert isinstance(item, bytes)
    if found.media:
        undefined: list[Unknown] = []
        if together.take(Decoded(name, found.name, found.resources(item, name, undefined), undefined, item)):
            return
    yield Piece(Task(name, item, found.name, to, tell))


def _of_table(inputs: Iterable[Input], to: str, tell: Tell) -> Iterator[Piece]:
    """Hand the clients of a table on as records, with what was found when their rows were read."""
    written = formats.named(RECORD).write
    for one in inputs:
        before = Done(notices=tell(one), asks=one.asks, left_aside=one.left_aside)
        yield Piece(Task(one.name, written(one.history), RECORD, to, tell, of_client=one.of_client), before=before)
