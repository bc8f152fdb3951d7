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
        self._free: asyncio.LifoQueue[Process | None] = asyncio.LifoQueue()
        self._busy: set[Process] = set()

    async def start(self) -> None:
        """Start the first worker, so that the first request does not wait for it."""
        for _ in range(self._number - 1):
            self._free.put_nowait(None)
        self._free.put_nowait(await self._started())

    async def stop(self) -> None:
        """End all workers."""
        while not self._free.empty():
            await _end(self._free.get_nowait())
        for one in list(self._busy):
            await _end(one)

    async def ask(self, job: str, options: Mapping[str, Json], content: bytes) -> tuple[str, dict[str, str], bytes]:
        """Return what a worker answers: media type, headers, body.

        Raises
        ------
        Refused
            As the worker says.
        Fault
            For a fault of ours, and a worker that ended by itself.
        """
        worker = await self._free.get()
        back: Process | None = None
        try:
            if worker is None or worker.returncode is not None:
                worker = await self._started()
            self._busy.add(worker)
            head, body = await _asked(worker, packed({"job": job, "options": dict(options)}, content))
            back = worker
        except (BrokenPipeError, ConnectionError, asyncio.IncompleteReadError):
            raise Fault("a fault of ours: a worker ended by itself, perhaps for want of memory") from None
        finally:
            self._free.put_nowait(back)
            if worker is not None:
                self._busy.discard(worker)
                if back is None:
                    await asyncio.shield(_end(worker))
        if "fault" in head:
            raise Fault(head["fault"])
        if "error" in head:
            where, expected, fix, found = head["error"]
            raise Refused(head["status"], where, expected, fix, found=found)
        return head["media"], head["headers"], body

    async def _started(self) -> Process:
        known = {name: value for name, value in os.environ.items() if name not in (TOKEN, TOKEN_FILE)}
        known["PYTHONPATH"] = os.pathsep.join(filter(None, (_HOME, known.get("PYTHONPATH"))))
        command = (sys.executable, "-P", "-m", "woundfhir.service.worker")  # -P: nothing of the folder we stand in
        worker = await asyncio.create_subprocess_exec(*command, stdin=PIPE, stdout=PIPE, stderr=DEVNULL, env=known)
        assert worker.stdin is not None
        worker.stdin.write(packed({}, self._setup.json()))
        return worker


async def _asked(worker: Process, message: bytes) -> tuple[Json, bytes]:
    assert worker.stdin is not None and worker.stdout is not None
    for start in range(0, len(message), _CHUNK):
        worker.stdin.write(message[start : start + _CHUNK])
        await worker.stdin.drain()
    head, body = LENGTHS.unpack(await worker.stdout.readexactly(LENGTHS.size))
    return json.loads(await worker.stdout.readexactly(head)), await worker.stdout.readexactly(body)


async def _end(worker: Process | None) -> None:
    if worker is None or worker.returncode is not None:
        return
    with suppress(ProcessLookupError):
        worker.kill()
    await worker.wait()
