"""What each line says of whose it is, as a DataFrame: ``woundfhir.bulk.whose`` on each line, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from woundfhir.bulk.lines import MARK
from woundfhir.bulk.whose import NotPlain, Unreadable, plain, whose
from woundfhir.errors import InputError
from woundfhir.intake.file_groups import digest, named
from woundfhir.intake.parting import SHARED
from woundfhir.limits import LINE_LIMIT, readable_size
from woundfhir.spark.lines import parted

if TYPE_CHECKING:
    import pyarrow
    from pyspark.sql import DataFrame

#: Faults of a line: it cannot be read; it, or what it says of its client, ends the run.
REFUSED, WHOLE, LONG = "refused", "whole", "long"
#: ``key`` is the one of the client's names by which a line is known; ``text`` that of a line without a client.
_SCHEMA = (
    "place bigint, fault string, reason string, name string, key string, clients array<string>, shared boolean, "
    "refs array<string>, digest binary, text binary"
)
_OWNED = "place bigint, key string, text binary"


def heads(lines: DataFrame) -> DataFrame:
    """Return what each line says of whose it is."""
    return lines.mapInArrow(_heads, _SCHEMA)


def owned(lines: DataFrame) -> DataFrame:
    """Return the lines that name their client, with a name of theirs."""
    return lines.mapInArrow(_owned, _OWNED)


def _texts(batches: Iterator[pyarrow.RecordBatch]) -> Iterator[list[tuple[int, bytes]]]:
    """Yield place and text of the lines of each batch that are not blank."""
    for batch in batches:
        found = []
        for place, text in zip(batch.column("place").to_pylist(), batch.column("text").to_pylist(), strict=True):
            if text.startswith(MARK) and parted(place)[1] == 1:
                text = text[len(MARK) :]
            if text.strip():
                found.append((place, text))
        yield found


def _heads(batches: Iterator[pyarrow.RecordBatch]) -> Iterator[pyarrow.RecordBatch]:
    import pyarrow

    schema = arrow_schema(_SCHEMA)
    for lines in _texts(batches):
        yield pyarrow.RecordBatch.from_pylist([_head(place, text) for place, text in lines], schema)


def _head(place: int, text: bytes) -> dict[str, Any]:
    if len(text) > LINE_LIMIT:
        return {"place": place, "fault": LONG, "reason": f"at most {readable_size(LINE_LIMIT)} a line"}
    try:
        one = whose(text)
        found = named(plain(text))
        patient = digest(text) if (one.name or "").startswith("Patient/") else None
    except Unreadable as reason:
        return {"place": place, "fault": REFUSED, "reason": str(reason)}
    except (NotPlain, InputError):  # the reader of the whole says what is wrong
        return {"place": place, "fault": WHOLE}
    loose = not one.clients and not one.shared
    return {
        "place": place,
        "name": one.name,
        "key": min(one.clients, default=None),
        "clients": sorted(one.clients),
        "shared": one.shared,
        "refs": sorted(name for name in found if loose or name.split("/")[0] in SHARED),
        "digest": sha256(text.strip()).digest() if one.shared else patient,
        "text": None if one.clients else text,
    }


def _owned(batches: Iterator[pyarrow.RecordBatch]) -> Iterator[pyarrow.RecordBatch]:
    import pyarrow

    schema = arrow_schema(_OWNED)
    for lines in _texts(batches):
        rows = []
        for place, text in lines:
            try:
                clients = whose(text).clients
            except Unreadable:
                continue
            if clients:
                rows.append({"place": place, "key": min(clients), "text": text})
        yield pyarrow.RecordBatch.from_pylist(rows, schema)


def arrow_schema(schema: str) -> pyarrow.Schema:
    import pyarrow

    kinds = {
        "bigint": pyarrow.int64(),
        "string": pyarrow.string(),
        "boolean": pyarrow.bool_(),
        "binary": pyarrow.binary(),
        "array<string>": pyarrow.list_(pyarrow.string()),
        "array<binary>": pyarrow.list_(pyarrow.binary()),
    }
    return pyarrow.schema([(name, kinds[kind]) for name, kind in (one.split(" ") for one in schema.split(", "))])
