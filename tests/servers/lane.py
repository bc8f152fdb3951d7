"""Whether a real FHIR server can run on this machine, and how one is started: the lane ``server``."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import httpx

RUN = Path(__file__).with_name("hapi") / "run"
#: Set in ``.ci/run``: there the lane may not skip.
REQUIRED = "WOUNDFHIR_SERVERS"


@cache
def missing() -> str | None:
    """Return what the lane lacks here, or None where it runs: Java, and Maven for the first build."""
    lacks = [name for name in ("java", "mvn") if shutil.which(name) is None]
    if lacks:
        return f"{' and '.join(lacks)} is not installed"
    try:
        built = subprocess.run([RUN, "build"], capture_output=True, timeout=170, check=False)
    except subprocess.TimeoutExpired:
        return "the server was not built in time"
    return None if built.returncode == 0 else "the server cannot be built (Maven Central is not reached)"


def required() -> bool:
    """Whether a server that cannot run is a failure."""
    return os.environ.get(REQUIRED) == "required"


@contextmanager
def hapi(*folder: str, **switches: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Start the server and stop it; yield its address and its process."""
    process = subprocess.Popen(
        [RUN, "0", *folder],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, **switches},
    )
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        assert line.startswith("ready "), "the server did not start"
        yield line.split()[1], process
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


@contextmanager
def troubled(base: str, **switches: str) -> Iterator[None]:
    """Let a server that runs have troubles for a while (``hapi/README.md``)."""
    gate = base.removesuffix("/fhir") + "/gate"
    httpx.put(gate, params=switches).raise_for_status()
    try:
        yield
    finally:
        httpx.put(gate).raise_for_status()
