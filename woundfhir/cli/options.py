"""Options and arguments that several verbs share."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

import click

from woundfhir.cli.texts import words
from woundfhir.errors import escaped
from woundfhir.language import LANGUAGES
from woundfhir.messages import translated

if TYPE_CHECKING:
    from woundfhir.fhir.losses import Losses
    from woundfhir.jose.keys import Key

_F = TypeVar("_F", bound=Callable[..., Any])

#: How a person names standard output, for every option that names a file to write.
STDOUT = Path("-")
#: Up to so many files are named one by one when they are written.
SEVERAL = 8
#: The longest line on standard error, in characters.
LINE = 1000


def _in_force(ctx: click.Context, param: click.Parameter, given: tuple[Path, ...]) -> None:
    """Read by these maps as long as the verb runs."""
    if given:
        from woundfhir.intake.mapped import using

        keep(ctx, param, given)
        ctx.with_resource(using(given))


def _at_site(ctx: click.Context, param: click.Parameter, folder: Path | None) -> None:
    """Let a site's folder hold as long as the verb runs."""
    if folder is not None:
        from woundfhir.site import Site

        keep(ctx, param, folder)
        ctx.with_resource(Site(folder))


def keep(ctx: click.Context, param: click.Parameter, value: Any) -> None:
    """Keep a choice for as long as the run lasts: see ``chosen_for_all``."""
    ctx.find_root().meta[f"woundfhir.{param.name}"] = value


def site(command: _F, name: str = "--site") -> _F:
    """``--site``: the folder of a site, before everything else that is read."""
    return click.option(
        name,
        "site_folder",
        envvar="WOUNDFHIR_SITE",
        type=click.Path(path_type=Path),
        metavar="DIR",
        is_eager=True,
        expose_value=False,
        callback=_at_site,
    )(command)


def _spoken(ctx: click.Context, _: click.Parameter, tag: str | None) -> None:
    """Let a language hold as long as the verb runs."""
    if tag:
        from woundfhir.language import speaking

        ctx.with_resource(speaking(tag))


def lang(command: _F) -> _F:
    """``--lang``: the language of what people read. The record and its FHIR are the same in every language."""
    return click.option(
        "--lang", envvar="WOUNDFHIR_LANG", metavar="|".join(LANGUAGES), expose_value=False, callback=_spoken
    )(command)


def maps(command: _F) -> _F:
    """``--map``: what a site's codes, and the columns of its tables, mean."""
    return click.option(
        "--map",
        type=click.Path(path_type=Path),
        metavar="FILE|FOLDER",
        multiple=True,
        expose_value=False,
        callback=_in_force,
    )(command)


def inputs(command: _F) -> _F:
    """One or several files, folders, or ``-``; and the maps by which their codes are read."""
    command = maps(command)
    return click.argument("inputs", nargs=-1, required=True, metavar="IN...")(command)


def _guarded(ctx: click.Context, _: click.Parameter, given: bool) -> None:
    """Write tables guarded as long as the verb runs."""
    if given:
        from woundfhir.record.guarded import guarding

        ctx.with_resource(guarding())


#: ``--guard-formulas``: of verbs that write a table.
guard_formulas = click.option("--guard-formulas", is_flag=True, expose_value=False, callback=_guarded)


def output(command: _F) -> _F:
    """``-o``, ``--force`` and ``--dry-run``."""
    command = force(command)
    return click.option("-o", "--output", type=click.Path(path_type=Path))(command)


def force(command: _F) -> _F:
    """``--force`` and ``--dry-run``: of every verb that writes files."""
    command = click.option("--dry-run", is_flag=True, expose_value=False, callback=keep)(command)
    return click.option("--force", is_flag=True)(command)


#: The report that a file is by its ending, where ``--format`` does not say.
_BY_ENDING = {".json": "json", ".html": "html", ".htm": "html", ".csv": "csv", ".xml": "junit", ".sarif": "sarif"}


def report(*names: str) -> Callable[[_F], _F]:
    """``--format``: the form of a report that ``-o`` may write; see ``form_of``."""
    return click.option(
        "--format", "form", type=click.Choice(names), show_default="by the ending of the file that -o names, else text"
    )


def form_of(chosen: str | None, output: Path | None, names: tuple[str, ...]) -> str:
    """Return the form of a report: what was chosen, else what the ending of the file says, else text."""
    found = chosen or ("" if output is None else _BY_ENDING.get(output.suffix.lower(), ""))
    return found if found in names else "text"


def to(verb: str, *more: str) -> Callable[[_F], _F]:
    """``--to``: the file format to write, out of those that serve a verb, and others that the verb itself writes."""
    from woundfhir.intake.formats import serving

    return click.option("--to", type=click.Choice((*serving(verb), *more)))


def dialect(command: _F) -> _F:
    """``--dialect``: for whom FHIR is written."""
    from woundfhir.fhir.dialects.names import NAMES

    return click.option("--dialect", type=click.Choice(NAMES))(command)


def tell_unmet(dialect: Any, history: Any) -> None:
    """Say for want of what resources claim no profile of the dialect in which they are written."""
    if (line := unmet(dialect, history)) is not None:
        say(line)


def unmet(dialect: Any, history: Any) -> str | None:
    """Return what ``tell_unmet`` says, if anything."""
    if dialect is None:
        return None
    from woundfhir.fhir.convert import written
    from woundfhir.fhir.dialects import spoken

    made = written(history, dialect)
    missing = spoken.unmet(dialect, made.resources, made.out)
    return words("losses.unmet", dialect=dialect, missing=", ".join(missing)) if missing else None


def patient(command: _F) -> _F:
    """``--patient``: one client out of many."""
    return click.option("--patient", metavar="WHO")(command)


def same_client(command: _F) -> _F:
    """``--same-client``: a person's decision, where the records do not show that both are of one client."""
    return click.option("--same-client", is_flag=True)(command)


def password(command: _F) -> _F:
    """``--password-file``: never on the command line, where other users of the machine can read it."""
    return click.option("--password-file", type=click.Path(path_type=Path), metavar="FILE")(command)


def key(path: Path, password_file: Path | None = None) -> Key:
    """Return the key in a file; ``password_file`` holds the password of a private one, on its first line."""
    from woundfhir.secret import first_line, key_in

    secret = None if password_file is None else first_line(password_file)
    return key_in(path, str(path), secret)


#: ``--strict``, of every verb that reads.
strict = click.option("--strict", is_flag=True)


class Came(Protocol):
    """What was read, as far as the exit code goes."""

    @property
    def asks(self) -> bool:
        """Whether a person must look."""

    @property
    def left_aside(self) -> bool:
        """Whether anything that came has no place in the record."""


def emit(content: bytes, path: Path | None, force: bool) -> None:
    """Write bytes to a file, or to standard output (no path, or ``-``)."""
    emit_all({path or STDOUT: content}, force)


def emit_all(outputs: Mapping[Path, bytes], force: bool, *, same: bool = False) -> list[Path]:
    """Write several outputs, the files among them all or none; ``-`` is standard output, and comes last.

    Returns what was written: with ``same``, a file that holds these bytes already is left alone.
    """
    from woundfhir.language import grouped
    from woundfhir.packed import packed, packing
    from woundfhir.storage import refuse_taken, save_all

    outputs = {path: packed(content, path.name) if packing(path.name) else content for path, content in outputs.items()}
    if chosen_for_all("dry_run"):
        for path in [one for one in outputs if one != STDOUT]:
            refuse_taken(path, force or same)
            note(words("written.would", path=path, size=grouped(len(outputs[path]))))
        return []
    written = save_all({path: content for path, content in outputs.items() if path != STDOUT}, force=force, same=same)
    if len(outputs) <= SEVERAL or chosen_for_all("verbose"):
        for path in written:
            note(words("written.file", path=path, size=grouped(len(outputs[path]))))
    if STDOUT in outputs:
        sys.stdout.flush()
        sys.stdout.buffer.write(outputs[STDOUT])
        sys.stdout.buffer.flush()
    return written


def chosen_for_all(name: str, otherwise: Any = None) -> Any:
    """Return what an option that every verb has (``common``) was given in this run."""
    ctx = click.get_current_context(silent=True)
    return otherwise if ctx is None else ctx.find_root().meta.get(f"woundfhir.{name}", otherwise)


def note(line: str) -> None:
    """Like ``say``, of what went well; ``--quiet`` leaves it out."""
    if not chosen_for_all("quiet"):
        say(line)


def tell(line: str) -> None:
    """Write one line to standard output; like ``say``."""
    click.echo(escaped(line, LINE))


def say(line: str) -> None:
    """Write one line to standard error. What of it came from outside cannot break it or move the cursor."""
    click.echo(escaped(line, LINE), err=True)


def loss_lines(losses: list[str], report: Losses) -> list[str]:
    """Return what was not understood, in lines: the counts first, then what a person must look at."""
    if not (losses or report.left_aside):
        return []
    kept = report.counts.get("kept", 0)
    more = [words("losses.kept", number=kept)] if kept else []
    return [translated(f"{report.summary}."), *map(translated, losses), *more]


def tell_losses(name: str, losses: list[str], report: Losses | None = None) -> None:
    """Say on standard error what was not understood."""
    for line in losses_of(name, losses, report):
        say(line)


def losses_of(name: str, losses: list[str], report: Losses | None) -> list[str]:
    """Return what of an input was not understood, in lines that name it."""
    if report is None:
        return [words("losses.of", name=name, words=translated(line)) for line in losses]
    shown = loss_lines(losses, report)
    return [f"  {line}" if number else words("losses.of", name=name, words=line) for number, line in enumerate(shown)]


def exit_code(*came: Came, strict: bool = False, more: bool = False) -> int:
    """Return the exit code of a verb that has read: 0 or 1 (2 is that of what cannot be read).

    1 where something that came is no fact, or contradicts; with ``strict`` where anything has no place in the record;
    and where the verb itself has found something (``more``).
    """
    return int(more or any(one.asks or (strict and one.left_aside) for one in came))
