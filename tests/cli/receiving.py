"""What the tests of ``receive``, ``compare`` and sealed bundles share: an invented history, and what is left behind."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.handover.select import gather
from woundfhir.record import History
from woundfhir.record.files import read_yaml

Said = tuple[int, str, str]
SECRETS = ("Example-Rowan", "C-0417", "1948-03", "Ida")


def whole() -> History:
    return gather(History.of(read_yaml(story().decode(), "story")), newest=3)


def command_line(capture: pytest.CaptureFixture[str]) -> Any:
    """The command line as a function: exit code, standard output and standard error, which hold no traceback."""

    def call(*args: object) -> Said:
        code = run([str(arg) for arg in args])
        out, err = capture.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return call


def tree(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}
