"""``woundfhir demo``: an invented story through the whole job, with what to open next."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.cli.texts import words
from woundfhir.errors import InputError, escaped
from woundfhir.language import grouped

_DEFAULT = "woundfhir-demo"


@click.command()
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path), default=Path(_DEFAULT))
@options.force
def command(folder: Path, force: bool) -> None:
    """Write an invented story into DIR, check it, convert it, bundle it; no network, nothing else needed."""
    from woundfhir.checklist import check
    from woundfhir.demo import story
    from woundfhir.handover import bundle
    from woundfhir.intake.source import parse
    from woundfhir.output import render, render_resource
    from woundfhir.report.text import verdict

    files: dict[str, tuple[bytes, str]] = {"story.yaml": (story(), words("demo.record"))}
    history = parse(story(), "story.yaml").history
    files["story.fhir.json"] = render(history, "fhir-json"), words("demo.json")
    files["story.fhir.xml"] = render(history, "fhir-xml"), words("demo.xml")
    files["story.csv"] = render(history, "csv"), words("demo.table")
    document = bundle(history, "document")
    files["history.document.json"] = render_resource(document), words("demo.document")
    findings = check(history)
    for name in ("story.fhir.json", "story.fhir.xml", "story.csv"):
        if parse(files[name][0], name).history.data != history.data:
            raise InputError(name, "the record that went in", "This is a fault of ours: please report it")
    options.emit_all({folder / name: content for name, (content, _) in files.items()}, force, same=True)
    if options.chosen_for_all("dry_run"):
        return
    said = verdict(findings)

    def at(name: str) -> str:
        return escaped(str(folder / name), 1000)  # a name that is not UTF-8 cannot be printed

    click.echo(words("demo.story") + "\n")
    for name, (content, what) in files.items():
        click.echo("  " + words("demo.file", path=at(name), size=grouped(len(content)), what=what))
    click.echo("\n" + words("demo.back") + "\n" + words("demo.checked", verdict=said))
    program = sys.argv[0] if Path(sys.argv[0]).name == "woundfhir" else "woundfhir"
    click.echo("\n" + words("demo.next"))
    for verb, more in (("check", ""), ("trend", ""), ("bundle", " -o history.json --sheet sheet.html")):
        click.echo(f"  {program} {verb} {at('story.yaml')}{more}\n      {words(f'demo.{verb}')}")
    click.echo(f"  {words('demo.open', path=at('history.document.json'))}")
