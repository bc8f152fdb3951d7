"""Answers of a terminology server, kept on disk for some days: one small file a question, whole or not at all."""

from __future__ import annotations

import hashlib
import json
import os
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from woundfhir.errors import InputError
from woundfhir.storage import save

Json = Any
#: Days for which an answer holds; that a code is not known there may change sooner.
DAYS, DAYS_UNKNOWN = 30, 1
#: Names the folder, in the environment.
CACHE = "WOUNDFHIR_CACHE"
_LARGEST = 64 * 1024


def folder(environment: Mapping[str, str] | None = None) -> Path:
    """Return where answers are kept: what ``WOUNDFHIR_CACHE`` names, else the user's folder for caches.

    Examples
    --------
    >>> folder({"XDG_CACHE_HOME": "/tmp/cache"}).as_posix()
    '/tmp/cache/woundfhir/terminology'
    """
    said = os.environ if environment is None else environment
    if said.get(CACHE):
        return Path(said[CACHE]) / "terminology"
    base = Path(said["XDG_CACHE_HOME"]) if said.get("XDG_CACHE_HOME") else Path.home() / ".cache"
    return base / "woundfhir" / "terminology"


@dataclass(frozen=True, slots=True)
class Kept:
    """An answer: what a server said, when (seconds since 1970-01-01 UTC), and whether it comes from the disk."""

    said: dict[str, Json] | None
    at: float
    kept: bool = False

    @property
    def day(self) -> str:
        """The day of the answer, in UTC."""
        return datetime.fromtimestamp(self.at, UTC).date().isoformat()


@dataclass
class AnswersKept:
    """The answers of one server.

    Parameters
    ----------
    base
        Its address.
    folder
        Where they are kept.
    now
        The clock.
    """

    base: str
    folder: Path
    now: Callable[[], float] = time.time

    def find(self, question: str) -> Kept | None:
        """Return an answer that still holds; whatever else the file may hold is as if it were not there."""
        path = self._path(question)
        try:
            if path.stat().st_size > _LARGEST:
                return None
            found = json.loads(path.read_bytes())
            said, at = found["said"], float(found["at"])
            asked = (found["server"], found["question"])
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return None
        if asked != (self.base, question) or not isinstance(said, dict | None):
            return None
        days = DAYS_UNKNOWN if said is None else DAYS
        return Kept(said, at, kept=True) if 0 <= self.now() - at < days * 86400 else None

    def keep(self, question: str, said: dict[str, Json] | None) -> Kept:
        """Keep an answer, where the disk takes it; None: the server does not know."""
        made = Kept(said, self.now())
        found = {"server": self.base, "question": question, "at": made.at, "said": said}
        with suppress(InputError, OSError):  # nothing depends on it
            save(json.dumps(found, sort_keys=True).encode(), self._path(question), force=True)
        return made

    def _path(self, question: str) -> Path:
        return self.folder / f"{hashlib.sha256(f'{self.base} {question}'.encode()).hexdigest()}.json"
