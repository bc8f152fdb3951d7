"""The command line: one small file for each verb, loaded when the verb is called."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from typing import Any

import click

from woundfhir._version import __version__
from woundfhir.cli.common import equip
from woundfhir.cli.net import close_output, ended, writing
from woundfhir.cli.settings import defaults

#: verb -> (module:command, one line for the list). The module is imported only when its verb is called.
VERBS = {
    "demo": ("woundfhir.cli.demo_:command", "Write an invented story, check, convert and bundle it."),
    "read-text": ("woundfhir.cli.read_text_:command", "Propose a note from a free text, for a person to confirm."),
    "page": ("woundfhir.cli.page_:command", "Chart visits on a page, on a machine of your own."),
    "new": ("woundfhir.cli.new_:command", "Write a new note to fill in, with just what this visit asks."),
    "check": ("woundfhir.cli.check_:command", "Is the note complete, and does it hold together?"),
    "audit": ("woundfhir.cli.audit_:command", "Count over many clients' notes: what is missing, how often."),
    "convert": ("woundfhir.cli.convert_:command", "Turn records and FHIR resources into each other."),
    "bundle": ("woundfhir.cli.bundle_:command", "Bundle a client's wound history for transfer."),
    "send": ("woundfhir.cli.send_:command", "Send a record to a FHIR server; an amendment arrives as one."),
    "fetch": ("woundfhir.cli.fetch_:command", "Fetch a client's record from a FHIR server."),
    "serve": ("woundfhir.cli.serve_:command", "Answer another system over HTTP: check, convert, CDS Hooks."),
    "receive": ("woundfhir.cli.receive_:command", "Take in what came: verify, compare, merge."),
    "rebuild": ("woundfhir.cli.rebuild_:command", "Make a client's record again of what was received."),
    "compare": ("woundfhir.cli.compare_:command", "Say in words what differs between two records."),
    "trend": ("woundfhir.cli.trend_:command", "Show how a wound's size has changed."),
    "map": ("woundfhir.cli.map_:command", "Write and try maps: what codes and columns of others mean."),
    "explain": ("woundfhir.cli.explain_:command", "Explain a rule or a concept."),
    "catalogue": ("woundfhir.cli.catalogue_:command", "List everything that can be charted."),
    "form": ("woundfhir.cli.form_:command", "Write the form of a visit, empty or filled from a record."),
    "profiles": ("woundfhir.cli.profiles_:command", "Write the FHIR profiles, or the package of them."),
    "config": ("woundfhir.cli.config_:command", "Show which settings hold, and where they stand."),
    "completion": ("woundfhir.cli.completion_:command", "Write the script that completes verbs in a shell."),
}


_Resolved = tuple[str | None, click.Command | None, list[str]]


class _Verbs(click.Group):
    """A group whose commands are imported when they are called."""

    def make_context(self, *args: Any, **more: Any) -> click.Context:
        """Read the arguments; --help and --version write here."""
        return writing(lambda: super(_Verbs, self).make_context(*args, **more))  # type: ignore[return-value]

    def invoke(self, ctx: click.Context) -> Any:
        """Run a verb. Click ends the process by itself, with 1, when standard output is gone: ours comes before it."""
        return writing(lambda: super(_Verbs, self).invoke(ctx))

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        module, name = VERBS[cmd_name][0].split(":")
        found: click.Command = getattr(import_module(module), name)
        equip(found)
        return found

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the verb, and what its options are without the command line (``settings``)."""
        name, command, rest = super().resolve_command(ctx, args)
        if name is not None and command is not None and not ctx.resilient_parsing:
            ctx.default_map = {name: defaults(name, command, VERBS)}
        return name, command, rest

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(verb, line) for verb, (_, line) in VERBS.items()])


@click.group(cls=_Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "-V", "--version", prog_name="woundfhir", message="%(prog)s %(version)s")
def cli() -> None:
    """Wound care notes to and from HL7 FHIR R4, checked for completeness, bundled for transfer.

    Data goes to standard output, everything else to standard error. Exit code 0: clean; 1: findings;
    2: could not run; 3: a fault of ours; 130: stopped. This is a documentation aid: it does not diagnose and does
    not recommend treatment.
    """


def run(args: Sequence[str] | None = None, **extra: Any) -> int:
    """Run the command line and return its exit code; see ``net`` for what it can be."""

    def call() -> object:
        try:
            code = cli.main(
                list(args) if args is not None else None,
                "woundfhir",
                complete_var="_WOUNDFHIR_COMPLETE",
                standalone_mode=False,
                **extra,
            )
        except click.exceptions.Exit as error:
            code = error.exit_code
        sys.stdout.flush()
        return code

    return ended(lambda: writing(call))


def main() -> None:
    """Entry point of the ``woundfhir`` command."""
    if sys.stdout is None:  # closed by whoever called; the next file that is opened would take its place
        with suppress(OSError, ValueError):
            click.echo("woundfhir: standard output is closed. Send it to a file, or to /dev/null", err=True)
        os._exit(2)
    code = run()
    close_output()
    sys.exit(code)
