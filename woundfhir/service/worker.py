"""A worker: a process that does one job after another until nobody asks any more.

It holds the client's data so that the service does not: what takes too long, or too much memory, ends with it.
"""

from __future__ import annotations

import os
import signal
import sys
from contextlib import suppress
from typing import Any

from woundfhir.border import fault_at
from woundfhir.errors import InputError, WoundfhirError
from woundfhir.service import frames
from woundfhir.service.jobs import holding, run
from woundfhir.service.setup import Setup
from woundfhir.web.guard import Refused

#: The most memory of a worker, in bytes, where the system knows such a limit.
MEMORY = 4 * 1024**3


def _limit_memory() -> None:
    with suppress(ImportError, ValueError, OSError):
        import resource

        _, hard = resource.getrlimit(resource.RLIMIT_AS)
        wanted = MEMORY if hard == resource.RLIM_INFINITY else min(MEMORY, hard)
        resource.setrlimit(resource.RLIMIT_AS, (wanted, hard))


def answer(head: Any, content: bytes, setup: Setup) -> bytes:
    """Do one job and return the message that answers it; an error is reported without a value of the client."""
    try:
        reply = run(head["job"], head["options"], content, setup)
    except InputError as error:
        status = error.status if isinstance(error, Refused) else 400
        return frames.packed({"status": status, "error": [error.where, error.expected, error.fix, error.found]})
    except MemoryError:
        said = ["the request", "one that fits into memory", "Send it in parts", ""]
        return frames.packed({"status": 413, "error": said})
    except RecursionError:
        said = ["the request", "fewer objects and lists inside each other", "Take some out", ""]
        return frames.packed({"status": 400, "error": said})
    except WoundfhirError as error:
        return frames.packed({"fault": str(error)})
    except Exception as error:
        return frames.packed({"fault": fault_at(error)})
    return frames.packed({"media": reply.media, "headers": reply.headers}, reply.content)


def main() -> None:
    """Read what the service was started with, then answer job after job."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is meant for the service, which ends its workers
    _limit_memory()
    coming, going = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints is no answer
    first = frames.unpacked(coming)
    if first is None:
        return
    setup = Setup.of_json(first[1])
    with holding(setup), suppress(BrokenPipeError):
        going.write(frames.packed({"ready": True}))
        going.flush()
        while (message := frames.unpacked(coming)) is not None:
            going.write(answer(*message, setup))
            going.flush()


if __name__ == "__main__":
    main()
