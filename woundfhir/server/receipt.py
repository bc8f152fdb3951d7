"""The receipt of what a server has stored: business key, the server's id, version, a digest of what was sent.

With it the next sending knows what it may write over (``If-Match``), what left the record since, and that a version
which reads otherwise is the server's own form of just what was sent. It holds no secret, and no answer.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir.keys import Key
from woundfhir.intake.source import load
from woundfhir.r4 import jsonio
from woundfhir.storage import save

Json = Any
_FIX = "Take the receipt that `woundfhir send --receipt` wrote for this server, or another name for a new one"


@dataclass
class Receipt:
    """What one server has of one client.

    Attributes
    ----------
    server
        Its base address.
    stored
        Key in words -> the reference to the server's resource (``Observation/7``), and its version.
    sent
        Key in words -> a digest of what was sent.
    path
        The file; None: nothing is written.
    """

    server: str
    stored: dict[str, tuple[str, str | None]] = field(default_factory=dict)
    sent: dict[str, str] = field(default_factory=dict)
    path: Path | None = None

    def note(self, key: Key, place: str, version: str | None, sent: str) -> None:
        """Note what a server has stored."""
        for words in [words for words, (there, _) in self.stored.items() if there == place]:
            del self.stored[words]  # it may have had another key before
        self.stored[key.words] = place, version
        self.sent[key.words] = sent

    def forget(self, words: str) -> None:
        """Note that something is marked as entered in error there, or gone: the record does not have it any more."""
        self.stored.pop(words, None)

    def save(self) -> None:
        """Write the file, whole."""
        if self.path is not None:
            save(self.bytes, self.path, force=True)

    @property
    def bytes(self) -> bytes:
        """The file's content."""
        rows = [
            {
                "key": words,
                "id": place,
                **({"version": version} if version else {}),
                **({"sent": self.sent[words]} if words in self.sent else {}),
            }
            for words, (place, version) in sorted(self.stored.items())
        ]
        return jsonio.encode_readable({"woundfhir": "receipt", "server": self.server, "stored": rows})

    def gone(self, now: set[str]) -> Iterator[tuple[str, str, str | None]]:
        """Yield key, place and version of what was stored and is not in the record now."""
        yield from ((words, *stored) for words, stored in sorted(self.stored.items()) if words not in now)


def read(path: Path | None, server: str) -> Receipt:
    """Return the receipt in a file; an empty one where there is none yet.

    Raises
    ------
    InputError
        For a file that is none, or of another server.
    """
    if path is None or not path.exists():
        return Receipt(server, path=path)
    where = str(path)
    try:
        said = jsonio.decode_checked(load(path))
        rows = {str(row["key"]): (str(row["id"]), row.get("version")) for row in said["stored"]}
        sent = {str(row["key"]): str(row["sent"]) for row in said["stored"] if "sent" in row}
        mine = said["woundfhir"] == "receipt"
    except (InputError, KeyError, TypeError):
        mine = False
    if not mine:
        raise InputError(where, "a receipt of ours", _FIX)
    if said.get("server") != server:
        raise InputError(where, "the receipt of this server", _FIX, found="it is of another server")
    return Receipt(server, rows, sent, path)
