"""The command line as a function, and a bundle that came."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.cli.receiving import command_line, whole
from woundfhir.handover import bundle
from woundfhir.r4 import jsonio


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Any:
    return command_line(capsys)


@pytest.fixture
def came(tmp_path: Path) -> Path:
    path = tmp_path / "came.json"
    path.write_bytes(jsonio.encode(bundle(whole())))
    return path
