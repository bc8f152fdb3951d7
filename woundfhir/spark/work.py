"""What is done with each client: the functions of one machine (``woundfhir.bulk.work``), on what Spark hands over."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

from woundfhir.border import fault_at
from woundfhir.bulk.refusals import line_of
from woundfhir.bulk.work import Task, do
from woundfhir.errors import Fault, InputError, WoundfhirError
from woundfhir.intake.inputs import Input
from woundfhir.limits import LIMIT, LINE_LIMIT, readable_size
from woundfhir.spark.lines import Lines, parted
from woundfhir.spark.setting import NOTHING, Setting
from woundfhir.spark.whose import arrow_schema

if TYPE_CHECKING:
    import pyarrow
    from pyspark.sql import DataFrame

Row = dict[str, Any]
#: What was made of each client: see ``woundfhir.bulk.work.Done``; where it failed, the place and the words of it.
DONE = (
    "number bigint, content binary, notices array<string>, asks boolean, left_aside boolean, visits bigint, "
    "clients array<binary>, place bigint, expected string, fix string, found string, ends boolean"
)
#: So many bytes, or rows, are handed back at once.
_BYTES, _ROWS = 4 * 1024 * 1024, 1_000


class Client(NamedTuple):
    """The lines of one client: what messages call them, their number in the order of all, and where they stood.

    Examples
    --------
    >>> Client("many.ndjson, client 1", 0, b"{}", [0]).places
    [0]
    """

    name: str
    number: int
    content: bytes
    places: list[int]


@dataclass(frozen=True)
class Clients:
    """Clients with their lines, as Spark holds them.

    Parameters
    ----------
    frame
        Their lines: ``place`` and ``text``, and for FHIR ``root`` and ``number`` (see ``grouping.Grouped``).
    form
        ``ndjson`` or ``record-ndjson``.
    lines
        The files.
    setting
        What has to hold where they are worked on.
    """

    frame: DataFrame
    form: str
    lines: Lines
    setting: Setting = NOTHING

    def convert(self, to: str, tell: Callable[[Input], list[str]] | None = None) -> DataFrame:
        """Return what ``woundfhir convert`` makes of each client.

        Parameters
        ----------
        to
            ``ndjson`` or ``record-ndjson``.
        tell
            Says what of an input was not understood, in lines.

        Returns
        -------
        DataFrame
            One row a client, with ``number`` (their order), ``content`` (bytes), ``visits``, ``notices``, ``asks``; of
            a client who cannot be read ``place``, ``expected``, ``fix`` and ``found``.
        """
        return self.mapped(partial(converted, form=self.form, to=to, tell=tell or nothing), DONE)

    def mapped(self, work: Callable[[Client], Iterable[Row]], schema: str | pyarrow.Schema) -> DataFrame:
        """Return the rows that a function gives for each client; it must be pure, as Spark may call it again."""
        if self.form == "ndjson":
            ready = self.frame.repartition("root").sortWithinPartitions("root", "place")
            return mapped(ready, partial(of_groups, title=self.lines.title()), work, schema, self.setting)
        return mapped(
            self.frame, partial(of_lines, names=self.lines.names, each=self.lines.each), work, schema, self.setting
        )


@dataclass
class Read:
    """What was read.

    Parameters
    ----------
    clients
        The clients, to be worked on.
    refused
        ``place`` and ``reason`` of lines that cannot be read; None where there are none.
    kept
        What Spark keeps meanwhile.
    first
        Of a table: what was made of each client's rows (``woundfhir.spark.work.DONE``), with what was not understood.
    """

    clients: Clients
    refused: DataFrame | None = None
    kept: list[DataFrame] = field(default_factory=list)
    first: DataFrame | None = None

    def __enter__(self) -> Read:
        return self

    def __exit__(self, *_: object) -> None:
        for one in self.kept:
            one.unpersist()


def mapped(
    frame: DataFrame,
    clients: Callable[[Iterator[pyarrow.RecordBatch]], Iterator[Client]],
    work: Callable[[Client], Iterable[Row]],
    schema: str | pyarrow.Schema,
    setting: Setting,
) -> DataFrame:
    """Return the rows that a function gives for each of the clients that another finds in a frame."""
    from pyspark.sql.pandas.types import from_arrow_schema

    arrow = arrow_schema(schema) if isinstance(schema, str) else schema
    run = partial(_run, setting=setting, clients=clients, work=work, schema=arrow)
    return frame.mapInArrow(run, from_arrow_schema(arrow))


def nothing(_: Input) -> list[str]:
    """Say nothing of an input."""
    return []


def _run(
    batches: Iterator[pyarrow.RecordBatch],
    setting: Setting,
    clients: Callable[[Iterator[pyarrow.RecordBatch]], Iterator[Client]],
    work: Callable[[Client], Iterable[Row]],
    schema: pyarrow.Schema,
) -> Iterator[pyarrow.RecordBatch]:
    """Work on the clients of one part, and hand back batches that are not large."""
    import pyarrow

    setting.hold()
    rows: list[Row] = []
    size = 0
    for client in clients(batches):
        for row in _safely(work, client):
            rows.append(row)
            size += len(row.get("content") or b"")
        if len(rows) >= _ROWS or size >= _BYTES:
            yield pyarrow.RecordBatch.from_pylist(rows, schema)
            rows, size = [], 0
    if rows:
        yield pyarrow.RecordBatch.from_pylist(rows, schema)


def _safely(work: Callable[[Client], Iterable[Row]], client: Client) -> Iterator[Row]:
    """Yield what a function gives; an error that nobody foresaw shows no value of the client in a log."""
    try:
        yield from work(client)
    except WoundfhirError:
        raise
    except Exception as error:
        raise Fault(fault_at(error)) from None


def of_groups(batches: Iterator[pyarrow.RecordBatch], title: str) -> Iterator[Client]:
    """Yield clients from lines that stand together and in order, each client's number first."""
    now: str | None = None
    number, size, places, texts = 0, 0, list[int](), list[bytes]()
    for batch in batches:
        columns = (batch.column(name).to_pylist() for name in ("root", "place", "number", "text"))
        for root, place, its_number, text in zip(*columns, strict=True):
            if root != now:
                if texts:
                    yield Client(f"{title}, client {number}", number, b"".join(texts), places)
                now, places, texts = root, [], []
            if text is None:
                number = its_number
            else:
                places.append(place)
                size = size + len(text) + 1 if texts else len(text) + 1
                if size <= LIMIT + LINE_LIMIT:  # of what is too large no more is held than shows it
                    texts.append(text + b"\n")
    if texts:
        yield Client(f"{title}, client {number}", number, b"".join(texts), places)


def of_lines(batches: Iterator[pyarrow.RecordBatch], names: list[str], each: str) -> Iterator[Client]:
    """Yield the client of each line."""
    for batch in batches:
        for place, text in zip(batch.column("place").to_pylist(), batch.column("text").to_pylist(), strict=True):
            if text.strip():
                file, line = parted(place)
                yield Client(f"{names[file]}, {each} {line}", place, text, [place])


def too_large(client: Client, form: str) -> InputError | None:
    """Return the error for a client, or a line, that is larger than what is read."""
    if form == "ndjson" and len(client.content) > LIMIT:
        return InputError(client.name, f"at most {readable_size(LIMIT)} of one client", "Split it by visits")
    if form != "ndjson" and len(client.content) > LINE_LIMIT:
        return InputError(client.name, f"at most {readable_size(LINE_LIMIT)} a line", "Write one resource a line")
    return None


def failed(client: Client, error: InputError, *, ends: bool = False) -> Row:
    """Return the row of a client who cannot be read; ``ends``: whether that ends the run in any case."""
    return {
        "number": client.number,
        "asks": False,
        "left_aside": False,
        "visits": 0,
        "place": line_of(error, client.places),
        "expected": error.expected,
        "fix": error.fix,
        "found": error.found,
        "ends": ends,
    }


def converted(client: Client, form: str, to: str, tell: Callable[[Input], list[str]]) -> Iterator[Row]:
    """Yield what is made of one client."""
    if (wrong := too_large(client, form)) is not None:
        yield failed(client, wrong, ends=True)
        return
    done = do(Task(client.name, client.content, form, to, tell))
    if done.error is not None:
        yield failed(client, done.error)
        return
    yield {
        "number": client.number,
        "content": done.content,
        "notices": done.notices,
        "asks": done.asks,
        "left_aside": done.left_aside,
        "visits": done.visits,
        "clients": done.clients,
    }
