"""sekmet-fhir (PyPI, Apache-2.0): a FHIR R4 server in Python over SQLite, started by tests on this machine."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import httpx

#: Types that it stores, and that its CapabilityStatement does not name.
UNNAMED = ("BodyStructure", "CareTeam", "Goal", "SupplyDelivery")
_SETTINGS = """\
base_url: {base}
host: 127.0.0.1
port: {port}
data_dir: {folder}
own_private_key_path: {folder}/key.pem
simulator: {{enabled: false, delay_seconds: 0}}
log_inbound: false
"""


@cache
def missing() -> str | None:
    """Return why it cannot run here, or None where it can."""
    return None if find_spec("sekmet") else "sekmet-fhir is not installed (pip install 'woundfhir[test]')"


@contextmanager
def sekmet(folder: Path) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """Start the server over a folder and stop it; yield its address and its process."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    base = f"http://127.0.0.1:{port}/fhir"
    folder.mkdir(parents=True, exist_ok=True)
    settings = folder / "settings.yaml"
    settings.write_text(_SETTINGS.format(base=base, port=port, folder=folder), "utf-8")
    code = "from sekmet.cli import app; app()"
    process = subprocess.Popen(
        [sys.executable, "-c", code, "serve", "--config", str(settings)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd=folder,
        env={name: value for name, value in os.environ.items() if not name.startswith("SEKMET_")},
    )
    try:
        _wait(base, process)
        yield base, process
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _wait(base: str, process: subprocess.Popen[bytes]) -> None:
    for _ in range(300):
        assert process.poll() is None, "the server did not start"
        with suppress(httpx.TransportError):
            if httpx.get(f"{base}/metadata").status_code == 200:
                return
        time.sleep(0.1)
    raise AssertionError("the server did not start in time")


__all__ = ["UNNAMED", "missing", "sekmet"]
