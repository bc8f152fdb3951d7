"""``convert`` into tables for analysis: Parquet or CSV, all tables in a folder or one in a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from woundfhir.cli import options, streamed
from woundfhir.cli.texts import words
from woundfhir.errors import InputError
from woundfhir.language import grouped
from woundfhir.packed import packing, plain_name

if TYPE_CHECKING:
    from woundfhir.cli.streamed import Choice
    from woundfhir.flat.files import TableSink
    from woundfhir.flat.schema import Name
    from woundfhir.intake.inputs import Input
    from woundfhir.storage.growing import Growing

#: The name of the format beside those of ``intake.formats``, and the word for every table.
PARQUET, ALL = "parquet", "all"

#: ``--table``: which tables are written.
choice = click.option("--table", "wanted", multiple=True, metavar="NAME")


def form_of(to: str | None, wanted: tuple[str, ...], output: Path | None) -> str | None:
    """Return the form of the tables that are asked for, ``parquet`` or ``csv``; None where no tables are asked for.

    Raises
    ------
    InputError
        For ``--table`` with a format that has no tables.
    """
    ending = "" if output is None else Path(plain_name(output.name)).suffix.lower()
    form = to or {".parquet": PARQUET, ".csv": "csv"}.get(ending)
    if form == PARQUET or (wanted and form == "csv"):
        return form
    if not wanted:
        return None
    if to is None:
        return PARQUET if output is not None and output.is_dir() else "csv"
    raise InputError("--table", "--to parquet or csv", "Choose one of them, or leave --table out")


def convert(
    inputs: tuple[str, ...],
    form: str,
    wanted: tuple[str, ...],
    output: Path | None,
    force: bool,
    chosen: Choice,
    patient: str | None,
) -> tuple[list[Any], int]:
    """Write tables; return what came, as ``options.exit_code`` wants it, and how many lines were refused.

    Raises
    ------
    InputError
        For what cannot be read or written, and for two records of one client; then nothing is written.
    """
    names = _names(wanted)
    places = _places(names, form, output)
    if options.chosen_for_all("dry_run"):
        from woundfhir.storage import refuse_taken

        for path in places.values():
            refuse_taken(path, force)
            options.note(words("written.would_table", path=path))
        return [], 0
    writing = _Tables(places, form)
    if patient is None and chosen.wanted(inputs) and not chosen.by_type:
        outcome = streamed.convert(inputs, "record-ndjson", output, force, chosen, streamed.Job(files=writing))
        if outcome is not None:
            return [outcome], outcome.refused
    elif chosen.needs:
        raise streamed.not_served(chosen)
    return _whole(inputs, writing, force, patient), 0


def _whole(inputs: tuple[str, ...], writing: _Tables, force: bool, patient: str | None) -> list[Input]:
    from woundfhir.intake.choosing import chosen
    from woundfhir.intake.source import read_all
    from woundfhir.storage.growing import Growing

    found = chosen(read_all(inputs), patient)
    for one in found:
        options.tell_losses(one.name, one.losses, one.report)
    with Growing(writing.folders, force=force) as growing, writing.open(growing) as sink:
        for one in found:
            one.history.source = one.name
            sink.take(one.history)
        told = writing.finish()
    for line in told:
        options.note(line)
    return found


def _names(wanted: tuple[str, ...]) -> tuple[Name, ...]:
    from woundfhir.flat.schema import NAMES, table_of

    asked = {table_of(name, "--table").name for name in wanted if name != ALL}
    return NAMES if ALL in wanted or not asked else tuple(name for name in NAMES if name in asked)


def _places(names: tuple[Name, ...], form: str, output: Path | None) -> dict[Name, Path]:
    """Where each table is written: in a folder that exists, or the only one in a file or on standard output."""
    if output is not None and output.is_dir():
        return {name: output / f"{name}.{form}" for name in names}
    if len(names) == 1:
        return {names[0]: output or options.STDOUT}
    fix = "Make it and name it with -o, or choose one table with --table"
    raise InputError("-o", f"a folder that exists, for {len(names)} tables", fix)


class _Tables:
    """The files of the tables."""

    def __init__(self, places: dict[Name, Path], form: str) -> None:
        from woundfhir.storage.outputs import goes_through

        self.places, self.form = places, form
        self.folders = sorted({path.parent for path in places.values() if not goes_through(path)})

    def open(self, growing: Growing) -> TableSink:
        """Begin the files."""
        from woundfhir.flat.arrow import WRITERS
        from woundfhir.flat.files import TableSink
        from woundfhir.flat.schema import tables
        from woundfhir.storage.outputs import Through, goes_through

        make = WRITERS[self.form]
        if self.form == PARQUET and any(packing(path.name) for path in self.places.values()):
            raise InputError(
                "-o", "a name that ends in .parquet", "Parquet is compressed inside: leave .gz or .zst out"
            )
        self._files = {
            name: Through(path) if goes_through(path) else growing.open(path) for name, path in self.places.items()
        }
        self._sink = TableSink({name: make(file, tables()[name]) for name, file in self._files.items()})
        return self._sink

    def finish(self) -> list[str]:
        """Write what is left; return what is to be said when all of it stands."""
        self._sink.end()
        return [
            words("written.table", path=path, rows=grouped(self._sink.rows[name]), size=grouped(self._files[name].size))
            for name, path in self.places.items()
            if path != options.STDOUT
        ]
