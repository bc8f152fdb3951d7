"""``woundfhir demo``: an invented story through the whole job, with what to open next."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from woundfhir.cli import options
from woundfhir.errors import InputError

_DEFAULT = "woundfhir-demo"


@click.command()
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path), default=Path(_DEFAULT))
@click.option("--force", is_flag=True)
def command(folder: Path, force: bool) -> None:
    """Write an invented story into DIR, check it, convert it, bundle it; no network, nothing else needed."""
    from woundfhir.checklist import check
    from woundfhir.demo import story
    from woundfhir.handover import bundle
    from woundfhir.intake.source import parse
    from woundfhir.output import render, render_resource
    from woundfhir.report.text import verdict

    files: dict[str, tuple[bytes, str]] = {"story.yaml": (story(), "the record as a nurse writes it")}
    history = parse(story(), "story.yaml").history
    files["story.fhir.json"] = render(history, "fhir-json"), "the same as FHIR R4 in JSON"
    files["story.fhir.xml"] = render(history, "fhir-xml"), "the same as FHIR R4 in XML"
    files["story.csv"] = render(history, "csv"), "the same as a table"
    document = bundle(history, "document")
    files["history.document.json"] = render_resource(document), "the history as a FHIR document, ready to send"
    findings = check(history)
    for name in ("story.fhir.json", "story.fhir.xml", "story.csv"):
        if parse(files[name][0], name).history.data != history.data:
            raise InputError(name, "the record that went in", "This is a fault of ours: please report it")
    options.emit_all({folder / name: content for name, (content, _) in files.items()}, force, same=True)
    said = verdict(findings)
    click.echo("An invented story: one client, two wounds, eight visits over five weeks.\n")
    for name, (content, what) in files.items():
        click.echo(f"  {folder / name}  ({len(content):,} bytes): {what}")
    click.echo(f"\nRead back from JSON, XML and CSV: the record that went in, word for word.\nChecked: {said}")
    program = sys.argv[0] if Path(sys.argv[0]).name == "woundfhir" else "woundfhir"
    click.echo("\nNext:")
    click.echo(
        f"  {program} check {folder / 'story.yaml'}           what the notes lack (visit V5 has gaps on purpose)"
    )
    click.echo(f"  {program} trend {folder / 'story.yaml'}           how the wounds have changed")
    click.echo(f"  {program} bundle {folder / 'story.yaml'} --sheet sheet.html   the sheet for the next nurse")
    click.echo(f"  Open {folder / 'history.document.json'} in any FHIR tool.")
