"""What is done with one client: a pure function, in this process or in others; results keep the order of the input."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from typing import Any, TypeVar

from woundfhir.bulk.lines import Part
from woundfhir.errors import InputError, WoundfhirError
from woundfhir.fhir.write_context import namespace
from woundfhir.intake import formats
from woundfhir.intake.inputs import Input
from woundfhir.intake.source import ONE_RECORD

G = TypeVar("G")
R = TypeVar("R")
#: Clients that wait for each worker: enough to keep it at work, and no more in memory.
_AHEAD = 3
#: How often a worker looks whether its parent is there, in seconds.
_WATCH = 0.5


@dataclass(frozen=True, slots=True)
class Task:
    """One client's lines, as they came, and what is to be made of them.

    Parameters
    ----------
    name
        What messages call it.
    content
        Lines.
    form, to
        Names of formats: of the lines, and of what is written.
    tell
        Says what of an input was not understood, in lines.
    wrong
        Why the lines cannot be read at all.
    of_client
        False for what names no client, beside several.
    given
        What the lines hold, where this process has read them: then it does the work, too.
    stretches
        Where the lines stand, instead of the lines: who does the work reads them.
    """

    name: str
    content: bytes
    form: str
    to: str
    tell: Callable[[Input], list[str]]
    wrong: InputError | None = None
    of_client: bool = True
    given: Input | None = None
    stretches: Sequence[Part] = ()

    def read(self) -> Iterator[Input]:
        """Yield what the lines hold.

        Raises
        ------
        InputError
            Where they cannot be read.
        """
        if self.wrong is not None:
            raise self.wrong
        if self.given is not None:
            yield self.given
            return
        for one in formats.named(self.form, "read").read_many(self.content, self.name):
            if self.form == "record-ndjson":  # one record, whose line in its file the name says already
                one.name = self.name
            elif self.form in ONE_RECORD:
                one.content = self.content
            one.of_client = one.of_client and self.of_client
            yield one


@dataclass(slots=True)
class Done:
    """What was made of one task: bytes, what a person is shown of it, and who it is."""

    content: bytes = b""
    notices: list[str] = field(default_factory=list)
    asks: bool = False
    left_aside: bool = False
    #: Whether a report holds a finding that decides the exit code.
    weighs: bool = False
    visits: int = 0
    #: What the ids of each client grow from; None for what is of no client, empty where it has no wound or visit.
    clients: list[bytes | None] = field(default_factory=list)
    error: InputError | None = None


def do(task: Task) -> Done:
    """Read the lines of one client, and write them in another format."""
    form = formats.named(task.to)
    return worked(task, lambda one, _: form.write(one.history))


def worked(task: Task, make: Callable[[Input, Done], bytes]) -> Done:
    """Read the lines of one client, and let a function make bytes of it; it may note more in what was done."""
    done, parts = Done(), []
    try:
        for one in task.read():
            parts.append(make(one, done))
            done.notices += task.tell(one)
            done.asks |= one.asks
            done.left_aside |= one.left_aside
            done.visits += len(one.history.visits)
            done.clients.append(who(one))
    except InputError as error:
        return Done(error=error)
    done.content = b"".join(parts)
    return done


def who(one: Input) -> bytes | None:
    """Return what the ids of a client grow from; None for what is of no client, empty where that has no visit."""
    if one.of_client:
        return namespace(one.history)
    return None if one.history.wounds or one.history.visits else b""


def all_done(tasks: Iterable[Task], workers: int = 1, work: Callable[[Task], Done] = do) -> Iterator[Done]:
    """Yield what is made of each task, in their order, by so many processes.

    Raises
    ------
    WoundfhirError
        Where a worker is stopped by somebody else.
    """
    return in_order(work, tasks, workers, here=lambda task: task.given is not None)


def in_order(
    work: Callable[[G], R], given: Iterable[G], workers: int = 1, *, here: Callable[[G], bool] = lambda _: False
) -> Generator[R, None, None]:
    """Yield what a function makes of each thing given, in their order, by so many processes.

    ``here`` says of which this process makes it itself.

    Raises
    ------
    WoundfhirError
        Where a worker is stopped by somebody else.
    """
    if workers < 2 or "fork" not in multiprocessing.get_all_start_methods():
        yield from map(work, given)
        return
    # A fork knows the site and the maps that hold here, the files that are open, and the function itself.
    with ProcessPoolExecutor(workers, multiprocessing.get_context("fork"), _begin, (os.getpid(), work)) as pool:
        waiting: deque[Future[R]] = deque()
        try:
            for one in given:
                waiting.append(_at_once(work, one) if here(one) else pool.submit(_work, one))
                if len(waiting) > workers * _AHEAD:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        except BrokenProcessPool:
            raise WoundfhirError(_STOPPED) from None
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _at_once(work: Callable[[G], R], given: G) -> Future[R]:
    done: Future[R] = Future()
    done.set_result(work(given))
    return done


def _begin(parent: int, work: Callable[[Any], Any]) -> None:
    """Begin a worker: it ends when its parent is killed, which else leaves it waiting with the lock of the folder."""
    global _held
    _held = work
    gc.freeze()
    signal.signal(signal.SIGTERM, signal.SIG_DFL)  # what the parent does then is not done here

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(_WATCH)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


#: What a worker does.
_held: Callable[[Any], Any]


def _work(given: Any) -> Any:
    return _held(given)


_STOPPED = "a worker was stopped, perhaps for want of memory: nothing was written. Try fewer --workers"
