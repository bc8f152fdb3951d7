"""The service, started as a user starts it, and the command line beside it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.paths import ROOT
from woundfhir import validate
from woundfhir.cli import run


class Served:
    """A running service, its client, and what it wrote on standard error."""

    def __init__(self, *options: str, **environment: str) -> None:
        known = {name: value for name, value in os.environ.items() if not name.startswith("WOUNDFHIR_")}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "woundfhir", "serve", "--port", "0", *options],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            env={**known, "PYTHONPATH": str(ROOT), **environment},
        )
        assert self.process.stderr is not None
        self.first = self.process.stderr.readline()
        assert self.first.startswith("Listening on "), self.first
        self.address = self.first.split()[2]
        self.client = httpx.Client(base_url=self.address, timeout=60, trust_env=False)

    def workers(self) -> list[int]:
        """Ids of the processes that work (Linux)."""
        pid = self.process.pid
        return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]

    def end(self) -> str:
        """Stop it, and return what it wrote."""
        self.client.close()
        self.process.terminate()
        assert self.process.stderr is not None
        log = self.process.stderr.read()
        self.process.wait(20)
        return log


@contextmanager
def serving(*options: str, **environment: str) -> Iterator[Served]:
    made = Served(*options, **environment)
    try:
        yield made
    finally:
        if made.process.poll() is None:
            made.end()
        if made.process.stderr is not None:
            made.process.stderr.close()


@pytest.fixture(scope="module")
def served() -> Iterator[Served]:
    with serving() as made:
        yield made


@pytest.fixture(scope="session")
def story(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of ``woundfhir demo``."""
    folder = tmp_path_factory.mktemp("story")
    assert run(["demo", str(folder)]) == 0
    return folder


Said = Callable[..., bytes]


@pytest.fixture
def said(tmp_path: Path) -> Said:
    """The command line on some bytes: returns what ``-o`` holds."""

    def call(verb: str, content: bytes, *options: str) -> bytes:
        came, out = tmp_path / "came", tmp_path / "out"
        came.write_bytes(content)
        code = run([verb, str(came), *options, "-o", str(out), "--force"])
        assert code in (0, 1)
        return out.read_bytes()

    return call


def media_of(name: str) -> dict[str, Any]:
    """The header for a file of the demo."""
    kinds = {
        ".fhir.json": "application/fhir+json",
        ".fhir.xml": "application/fhir+xml",
        ".yaml": "application/yaml",
        ".csv": "text/csv",
    }
    return {"Content-Type": next(kind for end, kind in kinds.items() if name.endswith(end))}


def broken_rules(resource: dict[str, Any]) -> list[Any]:
    """What of R4 a resource breaks; dom-6 (a narrative) is advice, and an answer to a program has none."""
    return [issue for issue in validate(resource) if issue.key != "dom-6"]
