"""Where the generated definitions lie (``profiles/``), and of what type a profile of ours is."""

from __future__ import annotations

import json
import re
import zipfile
from functools import cache
from importlib.resources import files
from pathlib import Path

_NAME = re.compile(r"[a-z][a-z0-9-]{0,80}")


def folder() -> Path | zipfile.Path:
    """Return where the definitions are: in an archive that the wheel brings, or in a checkout beside the package."""
    here = Path(str(files("woundfhir")))
    packed = here / "profiles.zip"
    return zipfile.Path(packed) if packed.is_file() else here.parent / "profiles"


@cache
def profile_type(name: str) -> str | None:
    """Return the type of resource that a profile of ours is of, or None where there is no such profile.

    Examples
    --------
    >>> profile_type("visit"), profile_type("visits")
    ('Encounter', None)
    """
    if not _NAME.fullmatch(name):
        return None
    path = folder() / f"StructureDefinition-{name}.json"
    return str(json.loads(path.read_bytes())["type"]) if path.is_file() else None
