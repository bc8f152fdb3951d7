"""The command line as a function."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cli.receiving import Said
from woundfhir.cli import run


@pytest.fixture
def said(capfd: pytest.CaptureFixture[str]) -> Any:
    """Standard output as a file: a stream writes its bytes past ``sys.stdout``."""

    def call(*args: object) -> Said:
        code = run([str(arg) for arg in args])
        out, err = capfd.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return call
