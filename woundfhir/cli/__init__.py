"""The command line: one small file for each verb, loaded when the verb is called."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from contextvars import copy_context
from importlib import import_module
from typing import Any

import click

from woundfhir._version import __version__
from woundfhir.cli import options
from woundfhir.cli.click_words import translate
from woundfhir.cli.common import equip
from woundfhir.cli.first_language import first_language
from woundfhir.cli.help import ROOT, HelpContext, page_of, short_help, texted
from woundfhir.cli.net import close_output, ended, heed_signals, writing
from woundfhir.cli.settings import defaults
from woundfhir.language import ENGLISH, speaking, spoken

#: verb -> module:command, imported only when the verb is called. Their order is that of the list.
VERBS = {
    "demo": "woundfhir.cli.demo_:command",
    "read-text": "woundfhir.cli.read_text_:command",
    "page": "woundfhir.cli.page_:command",
    "new": "woundfhir.cli.new_:command",
    "check": "woundfhir.cli.check_:command",
    "audit": "woundfhir.cli.audit_:command",
    "convert": "woundfhir.cli.convert_:command",
    "bundle": "woundfhir.cli.bundle_:command",
    "send": "woundfhir.cli.send_:command",
    "fetch": "woundfhir.cli.fetch_:command",
    "serve": "woundfhir.cli.serve_:command",
    "receive": "woundfhir.cli.receive_:command",
    "rebuild": "woundfhir.cli.rebuild_:command",
    "compare": "woundfhir.cli.compare_:command",
    "trend": "woundfhir.cli.trend_:command",
    "map": "woundfhir.cli.map_:command",
    "explain": "woundfhir.cli.explain_:command",
    "catalogue": "woundfhir.cli.catalogue_:command",
    "form": "woundfhir.cli.form_:command",
    "profiles": "woundfhir.cli.profiles_:command",
    "guide": "woundfhir.cli.guide_:command",
    "config": "woundfhir.cli.config_:command",
    "completion": "woundfhir.cli.completion_:command",
}


class _Verbs(click.Group):
    """A group whose commands are imported when they are called."""

    context_class = HelpContext

    def make_context(self, *args: Any, **more: Any) -> click.Context:
        """Read the arguments; --help and --version write here."""
        return writing(lambda: super(_Verbs, self).make_context(*args, **more))  # type: ignore[return-value]

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read what stands before the verb; without anything, say in a few lines what to write."""
        if not args and not ctx.resilient_parsing:
            click.echo(short_help(), err=True)
            ctx.exit(2)
        return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a verb. Click ends the process by itself, with 1, when standard output is gone: ours comes before it."""
        return writing(lambda: super(_Verbs, self).invoke(ctx))

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        module, name = VERBS[cmd_name].split(":")
        found: click.Command = getattr(import_module(module), name)
        equip(found)
        return found if spoken() is ENGLISH and not ctx.resilient_parsing else texted(found, cmd_name, ctx)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the verb, and what its options are without the command line (``settings``)."""
        name, command, rest = super().resolve_command(ctx, args)
        if name is not None and command is not None and not ctx.resilient_parsing:
            ctx.default_map = {name: defaults(name, command, VERBS)}
        return name, command, rest

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section(page_of(ROOT)["commands"]):
            formatter.write_dl([(verb, page_of(verb)["line"]) for verb in VERBS])


@click.group(cls=_Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@options.lang
@click.version_option(__version__, "-V", "--version", prog_name="woundfhir", message="%(prog)s %(version)s")
def cli() -> None:
    """Wound care notes to and from HL7 FHIR R4, checked for completeness, bundled for transfer."""


def run(args: Sequence[str] | None = None, **extra: Any) -> int:
    """Run the command line and return its exit code; see ``net`` for what it can be."""

    given = sys.argv[1:] if args is None else list(args)

    def call() -> object:
        try:
            code = cli.main(given, "woundfhir", complete_var="_WOUNDFHIR_COMPLETE", standalone_mode=False, **extra)
        except click.exceptions.Exit as error:
            code = error.exit_code
        sys.stdout.flush()
        return code

    def spoken_run() -> int:
        with speaking(first_language(given, VERBS)):
            return ended(lambda: writing(call))

    translate()
    return copy_context().run(spoken_run)


def main() -> None:
    """Entry point of the ``woundfhir`` command."""
    if sys.stdout is None:  # closed by whoever called; the next file that is opened would take its place
        with suppress(OSError, ValueError):
            click.echo("woundfhir: standard output is closed. Send it to a file, or to /dev/null", err=True)
        os._exit(2)
    heed_signals()
    code = run()
    close_output()
    sys.exit(code)
