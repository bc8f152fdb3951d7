"""Whether the engine lane can run on this machine: one answer for all its tests."""

from __future__ import annotations

from functools import cache

from tests.form.served import Unavailable
from woundfhir.definitions.core import package

from .engine import java


@cache
def missing() -> str | None:
    """Return what the engine lacks here, or None where it runs: Java, JPype, the jars, the R4 core package."""
    try:
        package()
        java()
    except (RuntimeError, Unavailable) as reason:
        return str(reason)
    return None
