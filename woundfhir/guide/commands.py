"""The command line in the guide, out of the objects of click that answer ``--help``; man pages come from the same."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import click

from woundfhir.cli import VERBS, cli
from woundfhir.cli.help import ROOT, page_of, texted
from woundfhir.guide.markdown import block, code, page, plain, table
from woundfhir.language import ENGLISH, speaking


@dataclass(frozen=True, slots=True)
class Verb:
    """What is known of one command.

    Attributes
    ----------
    name
        As it is called, without the program: ``map table``.
    line
        One line on what it does.
    usage
        Its arguments.
    examples
        Command lines.
    text
        Paragraphs; one that begins with a line break is laid out already.
    options
        Names and values, and what each does.
    """

    name: str
    line: str
    usage: str
    examples: str
    text: tuple[str, ...]
    options: tuple[tuple[str, str], ...]


def pages() -> Iterator[tuple[str, str, Callable[[], str]]]:
    """Yield the name, title and maker of the list of commands and of each command."""
    yield "commands", "Commands", _list
    for verb in VERBS:
        yield f"commands/{verb}", f"woundfhir {verb}", partial(_page, verb)


@speaking(ENGLISH)
def verbs(name: str) -> list[Verb]:
    """Return a command, and those below it where it is a group."""
    context = click.Context(cli, info_name="woundfhir", **cli.context_settings)
    found = cli.get_command(context, name)
    assert found is not None
    found = texted(found, name, context)
    own = _verb(name, found, context)
    if not isinstance(found, click.Group):
        return [own]
    inner = click.Context(found, info_name=name, parent=context)
    return [own, *(_verb(f"{name} {key}", one, inner) for key, one in found.commands.items())]


@speaking(ENGLISH)
def program() -> Verb:
    """Return the program itself."""
    context = click.Context(cli, info_name="woundfhir", **cli.context_settings)
    return _verb(ROOT, texted(cli, ROOT, context), context)


@speaking(ENGLISH)
def lines() -> list[tuple[str, str]]:
    """Return every command with one line on what it does."""
    return [(verb, page_of(verb)["line"]) for verb in VERBS]


def _verb(name: str, command: click.Command, parent: click.Context) -> Verb:
    context = click.Context(command, info_name=name.split()[-1], parent=parent)
    parts = [one for one in (command.help or "").replace("\r", "").split("\n\n") if one.strip()]
    examples, text = "", []
    for part in parts:
        laid_out = part.lstrip("\n").startswith("\b")
        body = part.lstrip("\n\b") if laid_out else " ".join(part.split())
        if laid_out and not examples and body.lstrip().startswith(("woundfhir", "WOUNDFHIR", "curl")):
            examples = body
        else:
            text.append(f"\n{body}" if laid_out else body)
    records = (one.get_help_record(context) for one in command.get_params(context))
    return Verb(
        name,
        command.short_help or "",
        " ".join(command.collect_usage_pieces(context)),
        examples,
        (*text, *((" ".join(part.split())) for part in page_of(name).get("epilog", "").split("\n\n") if part.strip())),
        tuple(one for one in records if one is not None and one[1]),
    )


def _page(name: str) -> str:
    first, *below = verbs(name)
    return page(f"woundfhir {name}", first.line, *_body(first), *(part for one in below for part in _below(one)))


def _below(verb: Verb) -> Iterator[str]:
    yield f"## woundfhir {verb.name}"
    yield from _body(verb)


def _body(verb: Verb) -> Iterator[str]:
    yield block(f"woundfhir {verb.name} {verb.usage}")
    if verb.examples:
        yield f"For example:\n\n{block(verb.examples)}"
    for part in verb.text:
        yield block(part.strip("\n")) if part.startswith("\n") else plain(part)
    yield table(("option", "what it does"), ((code(names), plain(words)) for names, words in verb.options))


def _list() -> str:
    rows = ((f"[{verb}](commands/{verb}.md)", plain(line)) for verb, line in lines())
    return page(
        "Commands",
        *(plain(part) for part in program().text),
        table(("command", "what it does"), rows),
        "The same pages as man pages: `woundfhir guide --man FOLDER`. Options that never change can stand in a file: "
        "see [config](commands/config.md).",
    )
