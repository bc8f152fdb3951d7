"""Whether the Spark lane can run on this machine: one answer for all its tests."""

from __future__ import annotations

import os
import shutil
from functools import cache
from importlib.util import find_spec


@cache
def missing() -> str | None:
    """Return what is lacking here, or None where it runs: pyspark, pyarrow, pandas, Java."""
    lacking = [name for name in ("pyspark", "pyarrow", "pandas") if find_spec(name) is None]
    if lacking:
        return f'{", ".join(lacking)}: pip install ".[spark]"'
    return None if shutil.which("java") or "JAVA_HOME" in os.environ else "java (17 or later)"


def required() -> bool:
    """Whether it must run (WOUNDFHIR_SPARK=required)."""
    return os.environ.get("WOUNDFHIR_SPARK") == "required"
