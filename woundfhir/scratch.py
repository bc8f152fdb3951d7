"""A database on the disk for what a run must remember and nobody keeps: it has no name, and is gone with the run."""

from __future__ import annotations

import sqlite3


def scratch(cache: int = 16_000) -> sqlite3.Connection:
    """Open a temporary database (SQLite, Temporary Databases), of which so many kilobytes stand in memory.

    Examples
    --------
    >>> scratch().execute("SELECT 1").fetchall()
    [(1,)]
    """
    base = sqlite3.connect("", isolation_level=None)
    for line in ("journal_mode=OFF", "synchronous=OFF", f"cache_size=-{cache}", "temp_store=FILE"):
        base.execute(f"PRAGMA {line}")
    return base
