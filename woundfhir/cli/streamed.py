"""``convert`` of many clients as they are read: workers, a file of errors, a file for each type of resource."""

from __future__ import annotations

import sys
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import click

from woundfhir.cli import options, resuming
from woundfhir.cli.texts import count, words
from woundfhir.errors import InputError
from woundfhir.language import grouped

if TYPE_CHECKING:
    from collections.abc import Callable

    from woundfhir.bulk.outcome import Outcome
    from woundfhir.bulk.progress import Progress
    from woundfhir.bulk.work import Done, Task
    from woundfhir.intake.inputs import Input
    from woundfhir.storage.growing import Growing
    from woundfhir.storage.kept import Kept
    from woundfhir.storage.outputs import File, Sink

#: Inputs of so many bytes are read as a stream, whether or not that is asked for.
LARGE = 50 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Choice:
    """What was asked of a run."""

    workers: int | None
    errors: Path | None
    progress: bool | None
    by_type: bool = False
    pack: str | None = None
    resume: bool = False

    @property
    def needs(self) -> str:
        """The option that only a stream can serve."""
        asked = {"--errors": self.errors is not None, "--by-type": self.by_type, "--resume": self.resume}
        return next((name for name, given in asked.items() if given), "")

    def wanted(self, inputs: tuple[str, ...]) -> bool:
        """Whether the input is to be read as a stream."""
        asked = self.needs or self.workers is not None or self.progress
        return bool(asked) or sum(map(_size, inputs)) > LARGE


_WORKERS = click.option("--workers", type=click.IntRange(1, 64), metavar="N")
_ERRORS = click.option("--errors", type=click.Path(path_type=Path), metavar="FILE")
_BY_TYPE = click.option("--by-type", is_flag=True)
_PACK = click.option("--pack", type=click.Choice(("gz", "zst")))
_PROGRESS = click.option("--progress/--no-progress", default=None)
_RESUME = click.option("--resume", is_flag=True)


def choices(command: Callable[..., int]) -> Callable[..., int]:
    """The options of a run over many clients that writes resources."""
    for option in (_WORKERS, _ERRORS, _BY_TYPE, _PACK, _PROGRESS, _RESUME):
        command = option(command)
    return command


def reporting(command: Callable[..., int]) -> Callable[..., int]:
    """The options of a run over many clients that reports on each, or makes a document for each."""
    for option in (_WORKERS, _ERRORS, _PROGRESS, _RESUME):
        command = option(command)
    return command


def serves(to: str, output: Path | None, chosen: Choice) -> bool:
    """Whether a stream can be written in a format, and to a place."""
    from woundfhir.bulk.forms import FORMS

    of_types = chosen.by_type and to == "ndjson"
    return of_types or (not chosen.by_type and to in FORMS and (output is None or not output.is_dir()))


def not_served(chosen: Choice) -> InputError:
    """Return the error where an option cannot be served."""
    expected = "--to ndjson or record-ndjson in one file (--by-type: ndjson, in a folder)"
    fix = "Choose one of them, without --patient, --dialect, --report, --list, --coverage and --dry-run"
    return InputError(chosen.needs, expected, fix)


class OwnFiles(Protocol):
    """Files of another form: tables (``cli/flattened.py``), documents (``cli/bundled.py``)."""

    @property
    def folders(self) -> list[Path]:
        """Where they are going to stand."""

    def open(self, growing: Growing) -> AbstractContextManager[Sink]:
        """Begin the files; return what takes the bytes of each client."""

    def finish(self) -> list[str]:
        """Write what is left; return the lines to show when all of it stands."""


@dataclass(frozen=True, slots=True)
class Job:
    """What is done with each client, where that is another thing than to convert them.

    Parameters
    ----------
    doing
        What progress calls it.
    work
        What is done.
    files
        What takes what is made, where that is not one file.
    tell
        Says what of an input was not understood, in lines.
    again
        Takes the name of a client who came already.
    kept
        What the bytes depend on besides the input, where a stopped run can be gone on with.
    """

    doing: str = "converting"
    work: Callable[[Task], Done] | None = None
    files: OwnFiles | None = None
    tell: Callable[[Input], list[str]] | None = None
    again: Callable[[str], object] | None = None
    kept: str | None = None


def convert(
    inputs: tuple[str, ...], to: str, output: Path | None, force: bool, chosen: Choice, job: Job | None = None
) -> Outcome | None:
    """Convert a stream, or do another job with each client; None where the input has to be read as a whole.

    Raises
    ------
    InputError
        For what cannot be read or written; then nothing is written.
    """
    from woundfhir.bulk.converting import Bulk
    from woundfhir.bulk.lines import Files
    from woundfhir.bulk.progress import Progress
    from woundfhir.bulk.whose import NotPlain

    progress = Progress(sys.stderr.isatty() if chosen.progress is None else chosen.progress)
    notices: list[str] = []
    job = job or Job(kept="")
    of_many = chosen.by_type or job.files is not None
    kept = None if job.kept is None else resuming.checkpoint(inputs, to, output, chosen, of_many, job.kept)
    if chosen.resume and kept is None:
        raise resuming.not_served()
    try:
        with ExitStack() as stack:
            stack.callback(resuming.tell_kept, kept, progress)
            writing = _Writing(output, force, chosen, stack, job.files, kept)
            refused = writing.refuse if chosen.errors is not None else None
            files = stack.enter_context(Files(inputs))
            bulk = Bulk(to, job.tell or lines_of, _say(progress), refused, chosen.workers or 1, progress)
            bulk.work, bulk.doing, bulk.again = job.work or bulk.work, job.doing, job.again
            if kept is not None:
                resuming.go_on(bulk, kept, writing.growing, to)
            outcome = bulk.run(files, writing.sink)
            progress.end()
            notices = writing.finish()
    except NotPlain:
        progress.end()
        if chosen.needs or "-" in inputs:  # standard input cannot be read again
            expected = "one FHIR resource a line, each naming its Patient by a reference (or one record a line)"
            raise InputError(chosen.needs or "--workers", expected, WHOLE) from None
        return None
    for line in notices:
        options.note(line)
    counts = {"clients": count("clients", outcome.clients), "visits": count("visits", outcome.visits)}
    options.note(words("convert.clients", **counts))
    return outcome


WHOLE = "Leave the option out: then the input is read as a whole"


class _Writing:
    """Where a run writes."""

    def __init__(
        self,
        output: Path | None,
        force: bool,
        chosen: Choice,
        stack: ExitStack,
        own: OwnFiles | None,
        kept: Kept | None,
    ) -> None:
        from woundfhir.bulk.by_type import ByType
        from woundfhir.bulk.refusals import ERRORS
        from woundfhir.storage.growing import Growing
        from woundfhir.storage.outputs import Through, goes_through

        self.output, self.chosen, self.own = output, chosen, own
        if chosen.by_type and (output is None or not output.is_dir()):
            raise InputError("-o", "a folder that exists, for --by-type", "Make it and name it with -o")
        if own is not None:
            folders = list(own.folders)
        else:
            folders = [] if not chosen.by_type and goes_through(output) else [_folder(output, chosen.by_type)]
        folders += [] if chosen.errors is None else [_folder(chosen.errors, False)]
        self.growing: Growing = stack.enter_context(Growing(folders, force=force, kept=kept))
        self.errors = None if chosen.errors is None else self.growing.open(chosen.errors)
        if self.errors is not None and not self.errors.lines:
            self.errors.write(f"{ERRORS}\n".encode())
        self.types: dict[str, File] = {}
        self.sink: Sink
        if own is not None:
            self.sink = stack.enter_context(own.open(self.growing))
        elif chosen.by_type:
            self.manifest = self.growing.open(_path(output) / resuming.MANIFEST)
            self.sink = by_type = ByType(self._begin)
            for kind in resuming.kinds(kept, _path(output)):
                by_type.files[kind] = self._begin(kind)
        elif goes_through(output):
            self.sink = Through(output or options.STDOUT)
        else:
            self.sink = self.growing.open(_path(output))

    def _begin(self, kind: str) -> File:
        ending = f".{self.chosen.pack}" if self.chosen.pack else ""
        self.types[kind] = self.growing.open(_path(self.output) / f"{kind}.ndjson{ending}")
        return self.types[kind]

    def refuse(self, name: str, line: int, reason: str) -> None:
        """Note a line that cannot be read."""
        if self.errors is not None:
            from woundfhir.bulk.refusals import error_line

            self.errors.write(f"{error_line(name, line, reason)}\n".encode())

    def finish(self) -> list[str]:
        """Write the manifest; return the lines to show when all of it stands."""
        from woundfhir.bulk.by_type import manifest

        if self.own is not None:
            return self.own.finish()
        if self.chosen.by_type:
            files = {kind: (one.path.name, one.lines, one.sha256) for kind, one in self.types.items()}
            self.manifest.write(manifest(files))
        written = self.growing.files.items()
        return [words("written.file", path=path, size=grouped(one.size)) for path, one in written]


def lines_of(one: Input) -> list[str]:
    """Return what of an input was not understood, as ``tell_losses`` says it."""
    return options.losses_of(one.name, one.losses, one.report)


def _say(progress: Progress) -> Callable[[str], object]:
    def say(line: str) -> None:
        progress.end()
        options.say(line)

    return say


def _path(output: Path | None) -> Path:
    assert output is not None
    return output


def _folder(path: Path | None, itself: bool) -> Path:
    found = _path(path)
    return found if itself else found.parent


def _size(name: str) -> int:
    path = Path(name)
    try:
        if path.is_dir():
            return sum(one.stat().st_size for one in path.rglob("*") if one.is_file())
        return path.stat().st_size
    except (OSError, ValueError):
        return 0
