"""``woundfhir map``: what a site's codes and the columns of its tables mean."""

from __future__ import annotations

from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.cli.terms_option import asking, terminology
from woundfhir.cli.texts import count, words


@click.group()
def command() -> None:
    """Write and try the maps that --map reads: what codes mean, and what the columns of a table mean."""


@command.command()
@click.argument("path", required=False, type=click.Path(path_type=Path), metavar="[FILE|FOLDER]")
@terminology
def test(path: Path | None, terminology: str | None) -> int:
    """Run the cases of a map, or of the maps in a folder; without one, of those that come with the toolkit."""
    from woundfhir.intake.map_cases import run

    failed = total = 0
    for name, wrong in run(path):
        total += 1
        failed += bool(wrong)
        if wrong:
            options.tell(f"{name}: {wrong}")
    options.tell(words("map.cases", cases=count("cases", total), failed=failed))
    if terminology is not None:
        _current(path, terminology)
    return 1 if failed else 0


def _current(path: Path | None, url: str) -> None:
    """Name the codes of maps that are not current, or not known, where a terminology server says so."""
    from woundfhir.maps import CodeMap, load
    from woundfhir.maps.table import shipped_folder
    from woundfhir.server.looked_up import of_maps

    maps = [one for one in load(path or shipped_folder()) if isinstance(one, CodeMap)]
    with asking(url) as server:
        for line in of_maps(maps, server):
            options.say(line)


@command.command()
@options.inputs
@terminology
@options.output
def propose(inputs: tuple[str, ...], terminology: str | None, output: Path | None, force: bool) -> None:
    """List the codes in IN that were not read, with how often and where they came, as the beginning of a map."""
    from woundfhir.intake.source import read_all
    from woundfhir.intake.unread import unread, write

    found = unread(one.report for one in read_all(inputs) if one.report is not None)
    more: dict[tuple[str, str], str] = {}
    if terminology is not None:
        from woundfhir.server.looked_up import comments

        with asking(terminology) as server:
            more = comments(found, server)
    options.emit(write(found, more).encode(), output, force)
    options.say(words("map.unread", codes=count("codes", len(found))))


@command.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@options.output
def convert(file: Path, output: Path | None, force: bool) -> None:
    """Turn a map of codes into its other form: TSV into a FHIR ConceptMap, a ConceptMap into TSV."""
    from woundfhir.errors import InputError
    from woundfhir.maps import CodeMap, conceptmap, load, tsv
    from woundfhir.r4 import jsonio

    (found,) = load(file) if not file.is_dir() else (None,)
    if not isinstance(found, CodeMap):
        raise InputError(str(file), "a map of codes (TSV or ConceptMap)", "Name one file")
    if file.suffix.lower() == ".json":
        options.emit(tsv.write(found).encode(), output, force)
    else:
        options.emit(jsonio.encode_readable(conceptmap.write(found)), output, force)


@command.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@click.option("--sheet", metavar="NAME")
@options.output
def table(file: Path, sheet: str | None, output: Path | None, force: bool) -> None:
    """Write a first mapping for the table in FILE (CSV, XLSX), from its headers and cells."""
    from woundfhir.intake.source import load
    from woundfhir.tables.propose import propose

    written = propose(load(file), str(file), sheet)
    options.emit(written.encode(), output, force)
    decide = sum('= "decide"' in line or line.startswith("# decide:") for line in written.splitlines())
    guessed = written.count("\nguess = ")
    options.say(words("map.guessed", columns=count("columns", guessed), decide=count("things", decide)))
