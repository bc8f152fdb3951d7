"""A document for each of many clients: what is made of one, and the folder and the manifest of all."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

import msgspec

from woundfhir.bulk.work import Done, Task, worked
from woundfhir.errors import InputError
from woundfhir.handover.bundling import Making, assembled
from woundfhir.handover.select import gather
from woundfhir.handover.summary.client import summary
from woundfhir.handover.summary.questions import missing
from woundfhir.intake import formats
from woundfhir.intake.inputs import Input
from woundfhir.r4 import jsonio
from woundfhir.record import History
from woundfhir.storage.disk import digest
from woundfhir.storage.growing import Growing
from woundfhir.storage.outputs import File, Folder

Json = Any
#: What stands in the folder that is named with ``-o``.
DOCUMENTS, MANIFEST = "documents", "manifest.json"
_HEAD = b'{"documents": [\n'
_NAME = re.compile(r"\d{6,}(?:\.[a-z0-9]+)+")


@dataclass(frozen=True, kw_only=True)
class Choice:
    """Which part of a history is bundled, what the Bundle is to be, and whether its JSON is without blanks."""

    making: Making = field(default_factory=Making)
    since: str | None = None
    newest: int | None = None
    compact: bool = False


class Made(msgspec.Struct):
    """A document, and what the manifest says of it."""

    content: bytes
    #: Where the client stood in the input, and their identifiers.
    input: str
    client: list[Json]
    wounds: int
    visits: int
    resources: int
    #: How many questions the document lists as not answered.
    missing: int


_encode = msgspec.msgpack.Encoder().encode
_decode = msgspec.msgpack.Decoder(Made).decode
_SIZE = 8


def make(task: Task, choice: Choice) -> Done:
    """Return the document of a client, as ``documents`` reads it: none for what names no client."""

    def one_of(one: Input, done: Done) -> bytes:
        if not one.of_client:
            done.asks = True
            return b""
        made = _encode(_made(one, task.to, choice))
        return len(made).to_bytes(_SIZE) + made

    return worked(task, one_of)


def _made(one: Input, to: str, choice: Choice) -> Made:
    history = gather(one.history, since=choice.since, newest=choice.newest)

    def build(part: History) -> dict[str, Json]:
        return assembled(part, choice.making)

    built = build(history)
    content = (
        jsonio.encode(built) if choice.compact else formats.named(to, "bundle").write_bundle(built, history, build)
    )
    client = history.patient.get("identifiers", [])
    asked = len(missing(summary(history)))
    counts = (len(history.wounds), len(history.visits), len(built["entry"]), asked)
    return Made(content, one.name, client, *counts)


def documents(content: bytes) -> Iterator[Made]:
    """Yield the documents that ``make`` gave, one behind the other."""
    at = 0
    while at < len(content):
        size = int.from_bytes(content[at : at + _SIZE])
        yield _decode(content[at + _SIZE : at + _SIZE + size])
        at += _SIZE + size


@dataclass
class Documents:
    """The folder of the documents, and the manifest beside it: written as they come.

    Parameters
    ----------
    output
        The folder in which both stand.
    suffix
        How the name of a document ends.
    """

    output: Path
    suffix: str
    number: int = 0
    _folder: Folder = field(init=False)
    _manifest: File = field(init=False)

    @property
    def folders(self) -> list[Path]:
        """Where files are going to stand."""
        return [self.output]

    @contextmanager
    def open(self, growing: Growing) -> Iterator[Documents]:
        """Begin both, or go on with them.

        Raises
        ------
        InputError
            Where a document that a stopped run had written is not as it was.
        """
        self._folder = growing.folder(self.output / DOCUMENTS, _NAME)
        self._manifest = growing.open(self.output / MANIFEST)
        if not self._manifest.size:
            self._manifest.write(_HEAD)
        else:
            self._go_on()
        yield self

    def _go_on(self) -> None:
        with self._manifest.part.open("rb") as lines:
            next(lines)
            for line in lines:
                listed = json.loads(line.strip().removesuffix(b","))
                self.number += 1
                if digest(self._folder.part / Path(listed["file"]).name) != listed["sha256"]:
                    wrong = "a document that the stopped run had written has been changed since"
                    fix = "Leave --resume out once: then the run begins anew"
                    raise InputError(str(self.output), "the bytes of its last checkpoint", fix, found=wrong)

    def write(self, content: bytes) -> None:
        """Take the documents of ``make``."""
        for made in documents(content):
            self.number += 1
            name = f"{self.number:06}{self.suffix}"
            self._folder.write(name, made.content)
            listed = {
                "file": f"{DOCUMENTS}/{name}",
                "input": made.input,
                "client": made.client,
                "wounds": made.wounds,
                "visits": made.visits,
                "resources": made.resources,
                "missing": made.missing,
                "size": len(made.content),
                "sha256": sha256(made.content).hexdigest(),
            }
            before = b",\n" if self.number > 1 else b""
            self._manifest.write(before + json.dumps(listed, ensure_ascii=False).encode())

    def end(self) -> None:
        """Write the end of the manifest."""
        self._manifest.write(b'%s], "count": %d}\n' % (b"\n" if self.number else b"", self.number))
