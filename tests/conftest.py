"""Settings of all tests, and the lanes they run in.

Markers: ``property`` (put on every hypothesis test here), ``engine`` (the HL7 validation engine), ``server`` (a
real FHIR server), ``spark`` (Apache Spark in local mode), ``browser``.
"""

from __future__ import annotations

import os
import signal

import pytest
from hypothesis import HealthCheck, settings

#: The one profile: no test is timed, and in CI every run draws the same examples.
settings.register_profile(
    "woundfhir",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    derandomize="CI" in os.environ,
    print_blob=True,
)
settings.load_profile("woundfhir")

# A shell without job control starts what runs behind it deaf to Ctrl-C, and so would be what the tests start and stop.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every hypothesis test, before ``-m`` chooses."""
    for item in items:
        if getattr(getattr(item, "obj", None), "is_hypothesis_test", False):
            item.add_marker(pytest.mark.property)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip the whole lane of the engine or of the server, with one reason, on a machine where it cannot run."""
    if item.get_closest_marker("engine") is not None:
        from tests.conformance.lane import missing

        if reason := missing():
            pytest.skip(f"the HL7 validation engine cannot run: {reason}")
    if (marker := item.get_closest_marker("server")) is not None:
        from tests.servers import lane, sekmet

        if reason := sekmet.missing() if "sekmet" in marker.args else lane.missing():
            (pytest.fail if lane.required() else pytest.skip)(f"no FHIR server can run: {reason}")
    if item.get_closest_marker("spark") is not None:
        from tests.spark import lane as spark

        if reason := spark.missing():
            (pytest.fail if spark.required() else pytest.skip)(f"Apache Spark cannot run: {reason}")
