"""Resources in a file for each type, as HL7's Bulk Data Access writes them, and the manifest beside them."""

from __future__ import annotations

import json
from collections.abc import Callable

from woundfhir.r4.ndjson import type_of
from woundfhir.storage.outputs import Sink


class ByType:
    """A file for each type of resource, and a manifest with counts and digests (HL7, Bulk Data Access: output)."""

    def __init__(self, begin: Callable[[str], Sink]) -> None:
        self._begin = begin
        self.files: dict[str, Sink] = {}

    def write(self, content: bytes) -> None:
        """Part lines by the type of their resource."""
        parts: dict[str, list[bytes]] = {}
        for line in content.splitlines(keepends=True):
            parts.setdefault(type_of(line), []).append(line)
        for kind, lines in parts.items():
            if kind not in self.files:
                self.files[kind] = self._begin(kind)
            self.files[kind].write(b"".join(lines))


def manifest(files: dict[str, tuple[str, int, str]]) -> bytes:
    """Return a manifest: type -> name of the file, how many lines, and their SHA-256 (of what is packed).

    Examples
    --------
    >>> print(manifest({"Patient": ("Patient.ndjson", 2, "ab")}).decode())
    {
      "output": [
        {
          "type": "Patient",
          "url": "Patient.ndjson",
          "count": 2,
          "sha256": "ab"
        }
      ]
    }
    <BLANKLINE>
    """
    output = [
        {"type": kind, "url": url, "count": count, "sha256": digest}
        for kind, (url, count, digest) in sorted(files.items())
    ]
    return (json.dumps({"output": output}, indent=2) + "\n").encode()
