"""Where the generated definitions lie (``profiles/``), and of what type a profile of ours is."""

from __future__ import annotations

import json
import re
from functools import cache
from importlib.resources import files
from pathlib import Path

_NAME = re.compile(r"[a-z][a-z0-9-]{0,80}")


def folders() -> tuple[Path, Path]:
    """Return where the definitions are: in the package as it is installed, or beside it."""
    here = Path(str(files("woundfhir")))
    return here / "profiles", here.parent / "profiles"


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
    for folder in folders():
        path = folder / f"StructureDefinition-{name}.json"
        if path.is_file():
            return str(json.loads(path.read_bytes())["type"])
    return None
