"""Where tests find what is not in the package: the shared reference folder, which may be absent."""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DATA = Path(__file__).parent / "data"
REFERENCE = ROOT.parent / "shared" / "reference"


def reference(name: str) -> Path:
    """Return a file or folder of the shared reference, or skip the test and say why."""
    path = REFERENCE / name
    if not path.exists():
        pytest.skip(f"the shared reference ({name}) is not beside this checkout")
    return path
