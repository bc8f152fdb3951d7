"""The outermost net: how a run ends, whatever happens in it.

0, 1: the verb's own answer. 2: it could not run, with one clear message (standard output that takes no more is one of
these). 3: a fault of ours. 130: stopped by Ctrl-C; 143 or 129 by a signal that asks it to end (SIGTERM, SIGHUP). 141,
silently: whoever read standard output has enough, as `| head` has.
"""

from __future__ import annotations

import errno
import os
import signal
import sys
import traceback
from collections.abc import Callable
from contextlib import suppress
from contextvars import ContextVar
from io import StringIO

import click

from woundfhir.border import fault_at
from woundfhir.cli.suggest import meant
from woundfhir.errors import Fault, WoundfhirError, escaped

#: With this in the environment, a fault of ours shows its traceback.
DEBUG = "WOUNDFHIR_DEBUG"
#: What the system says of an output that takes no more. (``woundfhir.storage`` has words of its own for files.)
_OUTPUT = frozenset((errno.ENOSPC, errno.EPIPE, errno.EIO, errno.EBADF, errno.EFBIG, errno.EDQUOT))


_traceback: ContextVar[bool] = ContextVar("traceback", default=False)


def show_traceback() -> None:
    """Show the traceback of a fault of ours in this run (``--debug``)."""
    _traceback.set(True)


class OutputError(Exception):
    """Standard output takes no more: the disk is full, or whoever read it has stopped."""


class ReaderGone(OutputError):
    """Whoever read standard output has stopped, and may well have all that was wanted."""


class Stopped(KeyboardInterrupt):
    """A signal asks the process to end: as with Ctrl-C, what is not finished is cleared away first."""

    def __init__(self, number: int) -> None:
        super().__init__()
        self.code = 128 + number


def heed_signals() -> None:
    """Let SIGTERM and SIGHUP end the process in order, where whoever started it does not want them ignored."""

    def stop(number: int, frame: object) -> None:
        signal.signal(number, signal.SIG_IGN)
        raise Stopped(number)

    for number in (signal.SIGTERM, getattr(signal, "SIGHUP", signal.SIGTERM)):
        if signal.getsignal(number) == signal.SIG_DFL:
            signal.signal(number, stop)


def writing(action: Callable[[], object]) -> object:
    """Do what may write to standard output; a failure of that is an ``OutputError`` and nothing else."""
    try:
        return action()
    except OSError as error:
        if error.errno in _OUTPUT:
            kind = ReaderGone if error.errno == errno.EPIPE else OutputError
            raise kind(os.strerror(error.errno)) from None
        raise


def ended(action: Callable[[], object]) -> int:
    """Do something and return the exit code.

    Errors of ours become a message on standard error. Whatever nobody foresaw is a fault of ours: its message names
    the kind of exception and the place in our code, and no text of it, which may hold a value of a client.
    """
    _traceback.set(False)
    try:
        result = action()
        return result if isinstance(result, int) else 0
    except (KeyboardInterrupt, click.Abort) as error:
        cause = error.__cause__ or error  # click makes an Abort of it
        code = cause.code if isinstance(cause, Stopped) else 130
        return _stop(_translated("stopped. What was not finished was not written"), code)
    except click.ClickException as error:
        said = StringIO()
        error.show(file=said)
        said.write(meant(error))
        with suppress(OSError, ValueError):
            click.echo("\n".join(escaped(line, 1000) for line in said.getvalue().expandtabs(2).splitlines()), err=True)
        return 2
    except Fault as error:
        return _fault(error)
    except WoundfhirError as error:
        return _stop(_shown(error), 2)
    except ReaderGone:
        return 141
    except OutputError as error:
        fix = "Make room, or let the next program read to the end"
        wrong = f"standard output: it cannot be written ({error}), and what came out is not all. {fix}"
        return _stop(_translated(wrong), 2)
    except MemoryError:
        return _stop(_translated("the input: it does not fit into memory. Split it, or close other programs"), 2)
    except Exception as error:
        if isinstance(error, OSError) and error.errno == errno.ENAMETOOLONG:  # wherever a file is looked for
            return _stop(_translated("the name of a file: it is longer than this system allows. Give another"), 2)
        return _fault(error)


def _stop(message: str, code: int) -> int:
    with suppress(OSError, ValueError):  # nobody is there to read it
        click.echo(f"woundfhir: {message}", err=True)
    return code


def _shown(error: WoundfhirError) -> str:
    from woundfhir.messages import shown  # only where something is wrong

    return shown(error)


def _translated(text: str) -> str:
    from woundfhir.messages import translated

    return translated(text)


def _fault(error: Exception) -> int:
    what = str(error) if isinstance(error, Fault) else fault_at(error)
    lines = [
        f"{what}. Nothing was half-written",
        "  Please report these lines with the command that you gave, and leave the client's record out",
        f"  --debug (or {DEBUG}=1 in the environment) shows the traceback. It can hold values: read it first",
    ]
    _stop("\n".join(map(_translated, lines)), 3)
    if os.environ.get(DEBUG) or _traceback.get():
        traceback.print_exception(error)
    return 3


def close_output() -> None:
    """Let what standard output could not take go, so that the interpreter does not complain of it at its end."""
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        with suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
