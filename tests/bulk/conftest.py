"""The command line as a function."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cli.receiving import command_line


@pytest.fixture
def said(capfd: pytest.CaptureFixture[str]) -> Any:
    """Standard output as a file: a stream writes its bytes past ``sys.stdout``."""
    return command_line(capfd)
