"""A client's folder, as ``receive --into`` keeps it: one input for every verb.

::

    clients/c-0417/
      record.yaml                        the record, joined of everything that came
      received/order.json                what came, in which order, and what was decided (see ``handover.kept``)
      received/<SHA-256>.json            the bytes as received (.xml ..., .jose for an encrypted file); where several
                                         clients or files came, the resources of this client, one a line
      received/whole/<SHA-256>.json      all that came with it, byte for byte, where that was asked for
      received/<SHA-256>.<...>.jws       the signature that came in a file beside it
      received/<SHA-256>.provenance.json where the resources that were new came from
      received/<SHA-256>.known.yaml      the record as it stood before, where it was not the one that receive had left
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

RECORD = "record.yaml"
KEPT = "received"
#: What an export in bulk holds beside its files (HL7, Bulk Data Access).
MANIFEST = "manifest.json"
INDEX = f"{KEPT}/order.json"
#: What came of several clients or in several files, whole: nothing is read from it again.
WHOLE = f"{KEPT}/whole"


def to_write(files: Mapping[str, bytes], home: Path) -> dict[Path, bytes]:
    """Return what is written of received files into a client's folder: a Provenance that is there stays as it is."""
    found = {home / name: content for name, content in files.items()}
    return {
        path: content
        for path, content in found.items()
        if not (path.name.endswith(".provenance.json") and path.exists())
    }


def is_kept(path: Path) -> bool:
    """Whether a file is no record: kept beside a client's record, which stands for it, or the manifest of an export."""
    if path.name == MANIFEST:
        return any(".ndjson" in one.suffixes for one in path.parent.iterdir())
    held = path.parent.parent if path.parent.name == "whole" else path.parent
    return held.name == KEPT and (held.parent / RECORD).is_file()
