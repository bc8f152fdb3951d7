"""Many clients' resources into another format, as they are read: the memory that it takes is that of one client."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import islice

from woundfhir.bulk.apart import Piece, pieces
from woundfhir.bulk.clients import Seen
from woundfhir.bulk.forms import form_of
from woundfhir.bulk.grouping import Grouping
from woundfhir.bulk.lines import Files, title_of
from woundfhir.bulk.outcome import Outcome
from woundfhir.bulk.progress import Progress
from woundfhir.bulk.refusals import NOT_READ, line_in, line_of, not_apart
from woundfhir.bulk.whose import NotPlain
from woundfhir.bulk.work import Done, Task, all_done, do
from woundfhir.errors import InputError
from woundfhir.intake.inputs import Input
from woundfhir.intake.parting import named_by_none
from woundfhir.messages import translated
from woundfhir.r4.ndjson import type_of
from woundfhir.storage.outputs import Sink

#: Bytes written from one checkpoint to the next: always after the same clients, so that a run that goes on packs its
#: files as one that was never stopped.
EVERY = 32 * 1024 * 1024


@dataclass(slots=True)
class Bulk:
    """One run.

    Parameters
    ----------
    to
        Name of the format to write.
    tell
        Says what of an input was not understood, in lines.
    say
        Takes each of these lines.
    refused
        Takes name of the file, line and reason of what cannot be read; without it that ends the run.
    workers
        How many processes.
    progress
        Where the run is.
    work
        What is done with each client.
    doing
        What progress calls it.
    again
        Takes the name of a client who came already, where that is no error.
    out
        What a stopped run had found at its last checkpoint: then what it had done is not done again.
    mark
        Makes a checkpoint, given what was found so far.
    seen
        Who was written already.
    """

    to: str
    tell: Callable[[Input], list[str]]
    say: Callable[[str], object]
    refused: Callable[[str, int, str], object] | None = None
    workers: int = 1
    progress: Progress = field(default_factory=lambda: Progress(False))
    work: Callable[[Task], Done] = do
    doing: str = "converting"
    again: Callable[[str], object] | None = None
    out: Outcome = field(default_factory=Outcome)
    mark: Callable[[Outcome], object] = lambda _: None
    seen: Seen = field(default_factory=Seen)

    def run(self, files: Files, sink: Sink) -> Outcome:
        """Convert all clients in files.

        Raises
        ------
        InputError
            For a line that cannot be read, where nothing takes it; and for clients whom the format cannot keep apart.
        NotPlain
            Where the input must be read as a whole.
        """
        form = form_of(files)
        if form == "record-ndjson":
            self.progress.begin(self.doing, files.size)
            return self._write(self._of_lines(files), files, sink, by=lambda task: len(task.content))
        if form == "ndjson":
            try:
                return self._grouped(files, sink)
            except NotPlain:
                if self.out.refused:  # what is listed would be listed again
                    raise
        if "-" in files.names:  # which cannot be read again
            raise NotPlain
        self.progress.begin(self.doing, 0)
        apart = islice(pieces(files.names, self.to, self.tell), self.out.groups, None)
        return self._write(apart, files, sink, by=lambda task: 1)

    def _grouped(self, files: Files, sink: Sink) -> Outcome:
        done = self.out.groups
        refuse = self._refuse if not done else lambda *_: None  # what cannot be read is listed already
        with Grouping(files, refuse if self.refused else None, self.workers) as grouping:
            self.progress.begin("reading", files.size)
            grouping.read(self.progress.add)
            if not done and (left := Counter(map(type_of, grouping.unnamed()))):
                self.say(f"{title_of(files.names)}: {translated(named_by_none(left))}")
                self.out.asks = True
            self.progress.begin(self.doing, grouping.clients() - done)
            return self._write(self._of_groups(grouping), files, sink, by=lambda task: 1)

    def _refuse(self, name: str, line: int, reason: str) -> None:
        if self.refused is not None:
            self.out.refused += 1
            self.refused(name, line, reason)

    def _of_lines(self, files: Files) -> Iterator[Piece]:
        for line in islice(files.lines(), self.out.groups, None):
            name = f"{files.names[line.file]}, line {line.number}"
            wrong = None if line.whole else files.too_long(line.file, line.number)
            task = Task(name, line.text, "record-ndjson", self.to, self.tell, wrong)
            yield Piece(task, [(line.file, line.number)])

    def _of_groups(self, grouping: Grouping) -> Iterator[Piece]:
        title = title_of(grouping.files.names)
        done = self.out.groups
        for number, group in enumerate(grouping.groups(done), done + 1):
            name = f"{title}, client {number}"
            yield Piece(Task(name, b"", "ndjson", self.to, self.tell, stretches=group.stretches), group.places)

    def _do(self, files: Files, task: Task) -> Done:
        """Do the work, once the lines are there."""
        if task.stretches:
            task = replace(task, content=files.together(task.stretches))
        return self.work(task)

    def _write(self, some: Iterator[Piece], files: Files, sink: Sink, by: Callable[[Task], int]) -> Outcome:
        out = self.out
        waiting: deque[tuple[str, list[tuple[int, int]], int, Done | None]] = deque()

        def given() -> Iterator[Task]:
            for one in some:
                waiting.append((one.task.name, one.places, by(one.task), one.before))
                yield one.task

        since = 0
        for done in all_done(given(), self.workers, partial(self._do, files)):
            name, places, amount, before = waiting.popleft()
            if done.error is not None:
                self._failed(done.error, name, places, files)
            self._keep_apart(name, done, out)
            sink.write(done.content)
            if before is not None:
                out.asks |= before.asks
                out.left_aside |= before.left_aside
            for line in (*(before.notices if before is not None else ()), *done.notices):
                self.say(line)
            self.progress.add(amount, done.visits)
            out.groups += 1
            since += len(done.content)
            if since >= EVERY:
                self.mark(out)
                since = 0
        return out

    def _failed(self, error: InputError, name: str, places: list[tuple[int, int]], files: Files) -> None:
        """Say of a client who cannot be read in which line of which file it is."""
        if not places:  # the whole of a file
            if self.refused is None:
                where = error.where if name in error.where else f"{name}, {error.where}"
                raise InputError(where, error.expected, error.fix, found=error.found)
            self._refuse(name, line_in(error) or 1, NOT_READ.format(error.expected))
            return
        file, line = line_of(error, places)
        if self.refused is None:
            where = f"{files.names[file]}, line {line}"
            raise InputError(where, error.expected, error.fix, found=error.found)
        self._refuse(files.names[file], line, NOT_READ.format(error.expected))

    def _keep_apart(self, name: str, done: Done, out: Outcome) -> None:
        """Note a client; refuse to write resources of which a reader could not say whose they are."""
        out.asks |= done.asks
        out.left_aside |= done.left_aside
        out.weighs |= done.weighs
        out.clients += len(done.clients)
        out.visits += done.visits
        out.nameless += sum(one is None for one in done.clients)
        written = self.work is do and self.to == "ndjson"
        if not written and self.again is None:
            return
        new = [self.seen.add(one) for one in done.clients if one is not None]  # of all of them, also after the first
        twice = not all(new)
        if self.again is not None:
            if twice:
                out.asks = True
                self.again(name)
        elif twice or (out.nameless and out.clients > 1):
            raise not_apart()
