"""The files of the catalogue's data, read as they are."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any


def data_file(*names: str) -> dict[str, Any]:
    """Return what a file of ``data/`` holds, by the parts of its path; nothing where there is no such file."""
    path = files("woundfhir.catalogue").joinpath("data", *names)
    return tomllib.loads(path.read_text("utf-8")) if path.is_file() else {}
