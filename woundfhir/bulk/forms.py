"""Which formats are read and written client by client, and which of them files are in."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePath

from woundfhir.bulk.lines import MARK, Files
from woundfhir.intake import formats
from woundfhir.intake.together import LINES
from woundfhir.packed import plain_name

#: The formats that are written client by client, and those that are read so.
FORMS = ("ndjson", "record-ndjson")


def form_of(files: Files) -> str | None:
    """Return the one format of all files, where it is read client by client."""
    heads = files.head()
    several = all(_has_lines(name, head) for name, head in zip(files.names, heads, strict=True))
    return one_form(heads) if several else None


def _has_lines(name: str, head: bytes) -> bool:
    """Whether a file holds one resource or record a line; of a single line alone its name tells."""
    single = b"\n" not in head.rstrip()
    return not single or name == "-" or PurePath(plain_name(name)).suffix.casefold() in LINES


def one_form(heads: Iterable[bytes]) -> str | None:
    """Return the one format of all files by the first bytes of each, where it is read client by client.

    Examples
    --------
    >>> one_form([b'{"resourceType":"Patient"}', b'{"resourceType":"Encounter"}']), one_form([b"{"])
    ('ndjson', None)
    """
    found = set()
    for head in heads:
        head = head.removeprefix(MARK)
        first = head.split(b"\n", 1)[0].strip()
        if len(first) == len(head) and len(first) >= 64 * 1024 - len(MARK):  # one very long line
            first = first[:0]
        form = formats.recognised_by(first + b"\n" + first) if first else None
        found.add(None if form is None else form.name)
    only = found.pop() if len(found) == 1 else None
    return only if only in FORMS else None
