"""The command line as a function, and a file of many clients."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.bulk.clients import CLIENTS, lines
from tests.cli.receiving import command_line


@pytest.fixture
def said(capfd: pytest.CaptureFixture[str]) -> Any:
    """Standard output as a file: a stream writes its bytes past ``sys.stdout``."""
    return command_line(capfd)


@pytest.fixture
def many(tmp_path: Path) -> Path:
    path = tmp_path / "many.ndjson"
    path.write_bytes(lines(*range(CLIENTS)))
    return path
