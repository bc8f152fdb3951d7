"""The pool of workers: each takes one job at a time, and is ended when it takes too long or nobody waits any more."""

from __future__ import annotations

import asyncio
import json
import os
import sys
from asyncio.subprocess import DEVNULL, PIPE, Process
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from woundfhir.errors import Fault
from woundfhir.service.frames import LENGTHS, packed
from woundfhir.service.setup import Setup
from woundfhir.web.guard import Refused
from woundfhir.web.listen import TOKEN, TOKEN_FILE

Json = Any
_CHUNK = 1 << 20
#: The folder that holds the package: workers are of the version that started them.
_HOME = str(Path(__file__).parents[2])


class _Worker:
    """One process, and whether it is ready: it needs a second to start, which is nobody's request's fault."""

    def __init__(self, process: Process) -> None:
        self.process = process
        self.ready = asyncio.ensure_future(_message(process))
        self.ready.add_done_callback(lambda done: done.cancelled() or done.exception())

    async def asked(self, message: bytes) -> tuple[Json, bytes]:
        """Return what it answers."""
        going = self.process.stdin
        assert going is not None
        for start in range(0, len(message), _CHUNK):
            going.write(message[start : start + _CHUNK])
            await going.drain()
        return await _message(self.process)

    async def end(self) -> None:
        """Kill it."""
        if self.process.returncode is None:
            with suppress(ProcessLookupError):
                self.process.kill()
            await self.process.wait()


async def _message(process: Process) -> tuple[Json, bytes]:
    coming = process.stdout
    assert coming is not None
    head, body = LENGTHS.unpack(await coming.readexactly(LENGTHS.size))
    return json.loads(await coming.readexactly(head)), await coming.readexactly(body)


class Workers:
    """So many processes, started when they are first needed.

    Parameters
    ----------
    setup
        What they work with.
    number
        How many.
    """

    def __init__(self, setup: Setup, number: int = 2) -> None:
        self._setup, self._number = setup, number
        self._free: asyncio.LifoQueue[_Worker | None] = asyncio.LifoQueue()
        self._busy: set[_Worker] = set()

    async def start(self) -> None:
        """Start the first worker, so that the first request does not wait for it."""
        for _ in range(self._number - 1):
            self._free.put_nowait(None)
        self._free.put_nowait(await self._started())

    async def stop(self) -> None:
        """End all workers."""
        while not self._free.empty():
            if (one := self._free.get_nowait()) is not None:
                await one.end()
        for one in list(self._busy):
            await one.end()

    async def ask(self, job: str, options: Mapping[str, Json], content: bytes) -> tuple[str, dict[str, str], bytes]:
        """Return what a worker answers: media type, headers, body.

        Raises
        ------
        Refused
            As the worker says.
        Fault
            For a fault of ours, and a worker that ended by itself.
        """
        worker = back = await self._free.get()
        try:
            if worker is None or worker.process.returncode is not None:
                worker = back = await self._started()
            self._busy.add(worker)
            await asyncio.shield(worker.ready)  # a caller that stops waiting leaves it to the next one
            back = None
            head, body = await worker.asked(packed({"job": job, "options": dict(options)}, content))
            back = worker
        except (BrokenPipeError, ConnectionError, asyncio.IncompleteReadError):
            back = None
            raise Fault("a fault of ours: a worker ended by itself, perhaps for want of memory") from None
        finally:
            self._free.put_nowait(back)
            if worker is not None:
                self._busy.discard(worker)
                if back is None:
                    await asyncio.shield(worker.end())
        if "fault" in head:
            raise Fault(head["fault"])
        if "error" in head:
            where, expected, fix, found = head["error"]
            raise Refused(head["status"], where, expected, fix, found=found)
        return head["media"], head["headers"], body

    async def _started(self) -> _Worker:
        known = {name: value for name, value in os.environ.items() if name not in (TOKEN, TOKEN_FILE)}
        known["PYTHONPATH"] = os.pathsep.join(filter(None, (_HOME, known.get("PYTHONPATH"))))
        command = (sys.executable, "-P", "-m", "woundfhir.service.worker")  # -P: nothing of the folder we stand in
        process = await asyncio.create_subprocess_exec(*command, stdin=PIPE, stdout=PIPE, stderr=DEVNULL, env=known)
        assert process.stdin is not None
        process.stdin.write(packed({}, self._setup.json()))
        return _Worker(process)
