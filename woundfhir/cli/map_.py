"""``woundfhir map``: what a site's codes and the columns of its tables mean."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.cli import options


@click.group()
def command() -> None:
    """Write and try the maps that --map reads: what codes mean, and what the columns of a table mean."""


@command.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@click.option("--sheet", metavar="NAME", help="The sheet of a workbook; without it the only one with cells.")
@options.output
def table(file: Path, sheet: str | None, output: Path | None, force: bool) -> None:
    """Write a first mapping for the table in FILE (CSV, XLSX), from its headers and cells.

    Every guess is marked, with what it rests on; "decide" stands where the table does not settle something, such as
    dd/mm or mm/dd. Read it through, then give it to any verb: woundfhir check FILE --map mapping.toml

    It quotes the headers of the table, and short words of columns with a list of answers; it names no client.
    """
    from woundfhir.intake.source import load
    from woundfhir.tables.propose import propose

    written = propose(load(file), str(file), sheet)
    options.emit(written.encode(), output, force)
    decide = sum('= "decide"' in line or line.startswith("# decide:") for line in written.splitlines())
    guessed = written.count("\nguess = ")
    options.say(f"{guessed} columns are guesses to confirm; {decide} things to decide.")
