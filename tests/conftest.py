"""Settings of all tests: hypothesis without deadlines (no test is timed), and the same examples in every CI run."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "here", deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
settings.register_profile("ci", parent=settings.get_profile("here"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")
