"""``woundfhir guide``: the pages of the guide in the terminal, as HTML, and the man pages."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from shutil import get_terminal_size

import click

from woundfhir.cli import options
from woundfhir.cli.common import colours
from woundfhir.cli.completing import Completed
from woundfhir.cli.texts import count, words


def _topics() -> Iterable[str]:
    from woundfhir.guide.book import book

    return sorted({name.rpartition("/")[2] for name in book()})


@click.command()
@click.argument("topic", required=False, metavar="[TOPIC]", type=Completed(_topics, files=False))
@click.option("--html", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option("--man", type=click.Path(path_type=Path), metavar="FOLDER")
@options.force
def command(topic: str | None, html: Path | None, man: Path | None, force: bool) -> None:
    """Show a page of the guide, or write all of it as HTML or as man pages."""
    from woundfhir.guide import book

    files: dict[Path, bytes] = {}
    if html is not None:
        from woundfhir.guide.site import html_files

        files |= {html / name: content for name, content in html_files()}
    if man is not None:
        from woundfhir.guide.man import man_pages

        files |= {man / name: content for name, content in man_pages().items()}
    if files:
        written = options.emit_all(files, force, same=True)
        if not options.chosen_for_all("dry_run"):
            options.note(words("profiles.files", files=count("files", len(files)), written=len(written)))
        return
    _show(f"# The guide\n\n{book.contents()}\n" if topic is None else book.find(topic).make())


def _show(markdown: str) -> None:
    if not sys.stdout.isatty():
        click.echo(markdown.rstrip("\n"))
        return
    from woundfhir.guide.terminal import laid_out

    width = min(100, get_terminal_size().columns)
    click.echo_via_pager(laid_out(markdown, width, colour=colours()), color=colours())
