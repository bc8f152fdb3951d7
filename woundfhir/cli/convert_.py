"""``woundfhir convert``: records and FHIR resources into each other, nothing lost."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from woundfhir.cli import flattened, options, streamed
from woundfhir.cli.terms_option import look_up, terminology
from woundfhir.cli.texts import count, words
from woundfhir.errors import InputError, escaped
from woundfhir.fhir.fates import KINDS
from woundfhir.messages import translated
from woundfhir.storage.disk import named_twice

if TYPE_CHECKING:
    from woundfhir.fhir.dialects.names import Name as Dialect
    from woundfhir.intake.format import Format
    from woundfhir.intake.inputs import Input


@click.command()
@options.inputs
@options.to("convert", flattened.PARQUET)
@flattened.choice
@options.dialect
@options.patient
@options.strict
@terminology
@click.option("--report", type=click.Path(path_type=Path), metavar="FILE")
@click.option("--list", "kinds", multiple=True, type=click.Choice(KINDS))
@click.option("--coverage", type=click.Path(path_type=Path), metavar="FILE")
@options.guard_formulas
@streamed.choices
@options.output
def command(
    inputs: tuple[str, ...],
    to: str | None,
    wanted: tuple[str, ...],
    patient: str | None,
    strict: bool,
    output: Path | None,
    force: bool,
    dialect: Dialect | None,
    terminology: str | None,
    report: Path | None,
    kinds: tuple[str, ...],
    coverage: Path | None,
    **many: Any,
) -> int:
    """Read IN (a record or FHIR resources, recognised by content) and write it in another format."""
    from woundfhir.record.guarded import is_guarding

    many_clients = streamed.Choice(**many)
    of_whole = dialect or terminology or report or kinds or coverage
    flat = flattened.form_of(to, wanted, output)
    if flat is not None:
        if of_whole:
            expected = "tables without --dialect, --report, --list, --coverage and --terminology"
            raise InputError("--table", expected, "Leave the option out, and write its report in a run of its own")
        came, refused = flattened.convert(inputs, flat, wanted, output, force, many_clients, patient)
        return options.exit_code(*came, strict=strict, more=bool(refused))
    form = _form(to, output).speaking(dialect)
    whole = of_whole or patient or is_guarding() or options.chosen_for_all("dry_run")
    if many_clients.wanted(inputs) and not whole and streamed.serves(form.name, output, many_clients):
        if (outcome := streamed.convert(inputs, form.name, output, force, many_clients)) is not None:
            return options.exit_code(outcome, strict=strict, more=bool(outcome.refused))
    elif many_clients.needs:
        raise streamed.not_served(many_clients)
    found = _read(inputs, patient, kinds, dialect)
    _write(found, form, output, force, _beside(found, report, kinds, coverage))
    look_up(terminology, (one.report for one in found))
    return options.exit_code(*found, strict=strict)


def _read(inputs: tuple[str, ...], patient: str | None, kinds: tuple[str, ...], dialect: Dialect | None) -> list[Input]:
    """Read each input as a whole, and say what became of it."""
    from woundfhir.intake.choosing import chosen
    from woundfhir.intake.source import read_all

    found = chosen(read_all(inputs), patient)
    for one in found:
        options.tell_losses(one.name, one.losses, one.report)
        for line in one.report.lines(*kinds) if kinds and one.report is not None else ():
            options.say(f"  {translated(line)}")
        options.tell_unmet(dialect, one.history)
    return found


def _beside(
    found: list[Input], report: Path | None, kinds: tuple[str, ...], coverage: Path | None
) -> list[tuple[Path, bytes]]:
    """Return the files of ``--report`` and ``--coverage``."""
    beside: list[tuple[Path, bytes]] = []
    if report is not None:
        beside.append((report, _report(found, report.suffix.lower() == ".json", kinds)))
    if coverage is not None:
        beside.append((coverage, _coverage(found, coverage.suffix.lower() == ".json")))
    return beside


def _form(to: str | None, output: Path | None) -> Format:
    from woundfhir.intake import formats

    form = formats.chosen(to, output)
    if form is None:
        raise InputError("--to", "one of " + ", ".join(formats.serving("convert")), "Choose one of them")
    return form


def _write(
    found: list[Input], form: Format, output: Path | None, force: bool, beside: list[tuple[Path, bytes]]
) -> None:
    """Write what was read: a file for each client into a folder, or all that the format joins into one.

    What is written beside it is written with it, or nothing is.
    """
    if output is not None and output.is_dir():
        names = _names([_stem(Path(one.name).name) for one in found], form.suffixes[0])
        files = [(output / name, form.write(one.history)) for name, one in zip(names, found, strict=True)]
        options.emit_all(_once([*beside, *files]), force)
        options.note(words("convert.files", files=count("files", len(files)), folder=output))
    elif len(found) == 1:
        options.emit_all(_once([*beside, (output or options.STDOUT, form.write(found[0].history))]), force)
    elif form.joins:
        content = form.write_many([one.history for one in found])
        options.emit_all(_once([*beside, (output or options.STDOUT, content)]), force)
    else:
        from woundfhir.record.clients import CHOOSE

        expected = f"a folder that exists, for {len(found)} clients"
        joined = "Make it and name it with -o, or write all to one file with -t ndjson (FHIR), record-ndjson or csv"
        raise InputError("-o", expected, f"{joined}. {CHOOSE}")


def _stem(name: str) -> str:
    """Return the name of an input's file without its ending.

    Examples
    --------
    >>> _stem("visits.csv, client 2"), _stem("visits.csv")
    ('visits-client-2', 'visits')
    """
    from woundfhir.intake import formats

    whole, comma, client = name.rpartition(", ")
    if comma and (client.startswith("client ") or client == "what names no client"):
        return f"{formats.stem(whole)}-{client.replace(' ', '-')}"
    return formats.stem(name)


def _once(pairs: list[tuple[Path, bytes]]) -> dict[Path, bytes]:
    """Return files by their names, each of its own."""
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = next(path for path, _ in pairs if sum(path == other for other, _ in pairs) > 1)
        raise named_twice(twice)
    return found


#: How a coverage names the two ways.
_WAYS = {"read": "read", "written": "wrote"}


def _report(found: list[Input], as_json: bool, kinds: tuple[str, ...]) -> bytes:
    """What became of each value of each input, counts first."""
    reports = [(one.name, one.report) for one in found if one.report is not None]
    if as_json:
        return (
            json.dumps({name: one.json(*kinds) for name, one in reports}, indent=2, ensure_ascii=False) + "\n"
        ).encode()
    lines = [
        escaped(line, options.LINE) for name, one in reports for line in (name, *map(translated, one.text(*kinds)))
    ]
    return "".join(f"{line}\n" for line in lines).encode()


def _coverage(found: list[Input], as_json: bool) -> bytes:
    """How each concept of each input is coded, both ways."""
    from woundfhir.report.coverage import coverage

    both = {
        one.name: {**({} if one.report is None else {"read": coverage(one.report)}), "written": coverage(one.history)}
        for one in found
    }
    if as_json:
        plain = {name: {way: one.json() for way, one in ways.items()} for name, ways in both.items()}
        return (json.dumps(plain, indent=2, ensure_ascii=False) + "\n").encode()
    lines = [
        line
        for name, ways in both.items()
        for way, one in ways.items()
        for line in (words("losses.of", name=name, words=words(f"convert.{_WAYS[way]}")), *map(translated, one.text()))
    ]
    return "".join(f"{escaped(line, options.LINE)}\n" for line in lines).encode()


def _names(stems: list[str], suffix: str) -> list[str]:
    """Return a file name for each input. Of two inputs with one name (in two folders) the later one gets a number."""
    out: list[str] = []
    taken: set[str] = {stem.casefold() for stem in stems}
    seen: set[str] = set()
    for stem in stems:
        name, number = stem, 1
        while name.casefold() in (seen if number == 1 else taken | seen):
            number += 1
            name = f"{stem}-{number}"
        seen.add(name.casefold())
        out.append(name + suffix)
    return out
