"""One Spark for all tests of the room, and the jobs as a person runs them."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from woundfhir.cli.net import ended


@pytest.fixture(scope="session")
def spark() -> Iterator[Any]:
    """Two tasks at once, each tried four times, and inputs parted into pieces of 60 kB."""
    os.environ["PYSPARK_PYTHON"] = sys.executable
    from pyspark.sql import SparkSession

    settings = {
        "spark.ui.enabled": "false",
        "spark.ui.showConsoleProgress": "false",
        "spark.driver.bindAddress": "127.0.0.1",
        "spark.driver.host": "127.0.0.1",
        "spark.sql.shuffle.partitions": "2",
        "spark.sql.codegen.factoryMode": "NO_CODEGEN",  # little data: compiling would take longer than the work
        "spark.sql.codegen.wholeStage": "false",
        "spark.sql.files.maxPartitionBytes": "60000",
    }
    found = SparkSession.builder.master("local[2,4]").config(map=settings).getOrCreate()
    found.sparkContext.setLogLevel("OFF")
    yield found
    found.stop()


@pytest.fixture
def job(spark: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Any]:
    """Run a job in this process, with the Spark of all tests."""
    from woundfhir.spark.__main__ import command

    monkeypatch.setattr(type(spark), "stop", lambda self: None)

    def call(*args: object) -> tuple[int, str]:
        code = ended(lambda: command.main([str(arg) for arg in args], "woundfhir.spark", standalone_mode=False))
        _, err = capsys.readouterr()
        assert "Traceback" not in err
        return code, err

    return call


def parts(folder: Path) -> bytes:
    """Return the parts of an output in the order of their names."""
    return b"".join(path.read_bytes() for path in sorted(folder.glob("part-*")))
